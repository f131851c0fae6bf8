-- Under which licence the readings of a gauge may be passed on, and how they are to be cited.
ALTER TABLE gauge ADD COLUMN licence TEXT COLLATE "C";
ALTER TABLE gauge ADD COLUMN citation TEXT COLLATE "C";

-- The same of all records of a source, as record.source names it.
CREATE TABLE record_source (
    watershed_id BIGINT NOT NULL REFERENCES watershed (id),
    source TEXT COLLATE "C" NOT NULL,
    licence TEXT COLLATE "C",
    citation TEXT COLLATE "C",
    PRIMARY KEY (watershed_id, source)
);
