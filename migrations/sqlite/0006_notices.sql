-- What keepers tell about a reach, or about the whole water where reach_id is missing. sequence grows with every
-- change, so that calendars follow; a withdrawn notice stays for a while, so that they can drop it.
CREATE TABLE notice (
    id TEXT NOT NULL PRIMARY KEY,
    watershed_id INTEGER NOT NULL REFERENCES watershed (id),
    reach_id INTEGER REFERENCES reach (id),
    words TEXT NOT NULL,
    from_date TEXT NOT NULL,
    until_date TEXT NOT NULL,
    audience TEXT NOT NULL CHECK (audience IN ('everyone', 'members')),
    sequence INTEGER NOT NULL,
    created_at INTEGER NOT NULL,
    changed_at INTEGER NOT NULL,
    withdrawn_at INTEGER
) STRICT;
CREATE INDEX notice_by_watershed ON notice (watershed_id, until_date);

-- Secret addresses of feeds. sha256 is that of the key in the address, which itself is kept nowhere.
CREATE TABLE feed_address (
    id TEXT NOT NULL PRIMARY KEY,
    watershed_id INTEGER NOT NULL REFERENCES watershed (id),
    sha256 TEXT NOT NULL UNIQUE,
    name TEXT NOT NULL,
    created_at INTEGER NOT NULL,
    revoked_at INTEGER
) STRICT;

-- Waters whose feeds are given only under secret addresses.
CREATE TABLE private_feeds (
    watershed_id INTEGER NOT NULL PRIMARY KEY REFERENCES watershed (id),
    since_at INTEGER NOT NULL
) STRICT;
