-- What an open service says of its own values, as sent: a list of texts as JSON.
ALTER TABLE reading ADD COLUMN qualifiers TEXT;

-- How far a gauge has been fetched from its source. newest_date is the last civil day with a value;
-- series the identifiers that were taken, notes what was to be said, failure what went wrong last.
CREATE TABLE gauge_sync (
    gauge_id INTEGER NOT NULL PRIMARY KEY REFERENCES gauge (id),
    source TEXT NOT NULL,
    series TEXT,
    newest_date TEXT,
    etag TEXT,
    last_modified TEXT,
    tried_at INTEGER NOT NULL,
    done_at INTEGER,
    failure TEXT,
    notes TEXT
) STRICT;
