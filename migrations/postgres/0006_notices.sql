-- What keepers tell about a reach, or about the whole water where reach_id is missing. sequence grows with every
-- change, so that calendars follow; a withdrawn notice stays for a while, so that they can drop it.
CREATE TABLE notice (
    id TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    watershed_id BIGINT NOT NULL REFERENCES watershed (id),
    reach_id BIGINT REFERENCES reach (id),
    words TEXT COLLATE "C" NOT NULL,
    from_date TEXT COLLATE "C" NOT NULL,
    until_date TEXT COLLATE "C" NOT NULL,
    audience TEXT COLLATE "C" NOT NULL CHECK (audience IN ('everyone', 'members')),
    sequence BIGINT NOT NULL,
    created_at BIGINT NOT NULL,
    changed_at BIGINT NOT NULL,
    withdrawn_at BIGINT
);
CREATE INDEX notice_by_watershed ON notice (watershed_id, until_date);

-- Secret addresses of feeds. sha256 is that of the key in the address, which itself is kept nowhere.
CREATE TABLE feed_address (
    id TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    watershed_id BIGINT NOT NULL REFERENCES watershed (id),
    sha256 TEXT COLLATE "C" NOT NULL UNIQUE,
    name TEXT COLLATE "C" NOT NULL,
    created_at BIGINT NOT NULL,
    revoked_at BIGINT
);

-- Waters whose feeds are given only under secret addresses.
CREATE TABLE private_feeds (
    watershed_id BIGINT NOT NULL PRIMARY KEY REFERENCES watershed (id),
    since_at BIGINT NOT NULL
);
