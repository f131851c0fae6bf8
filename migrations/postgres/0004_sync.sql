-- What an open service says of its own values, as sent: a list of texts as JSON.
ALTER TABLE reading ADD COLUMN qualifiers TEXT COLLATE "C";

-- How far a gauge has been fetched from its source. newest_date is the last civil day with a value;
-- series the identifiers that were taken, notes what was to be said, failure what went wrong last.
CREATE TABLE gauge_sync (
    gauge_id BIGINT NOT NULL PRIMARY KEY REFERENCES gauge (id),
    source TEXT COLLATE "C" NOT NULL,
    series TEXT COLLATE "C",
    newest_date TEXT COLLATE "C",
    etag TEXT COLLATE "C",
    last_modified TEXT COLLATE "C",
    tried_at BIGINT NOT NULL,
    done_at BIGINT,
    failure TEXT COLLATE "C",
    notes TEXT COLLATE "C"
);
