-- Under which licence the readings of a gauge may be passed on, and how they are to be cited.
ALTER TABLE gauge ADD COLUMN licence TEXT;
ALTER TABLE gauge ADD COLUMN citation TEXT;

-- The same of all records of a source, as record.source names it.
CREATE TABLE record_source (
    watershed_id INTEGER NOT NULL REFERENCES watershed (id),
    source TEXT NOT NULL,
    licence TEXT,
    citation TEXT,
    PRIMARY KEY (watershed_id, source)
) STRICT;
