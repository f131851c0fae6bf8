-- What winged insects look like: lists of words as JSON text; missing where nobody said.
ALTER TABLE taxon ADD COLUMN tails TEXT COLLATE "C";
ALTER TABLE taxon ADD COLUMN body_colours TEXT COLLATE "C";
ALTER TABLE taxon ADD COLUMN wing_colours TEXT COLLATE "C";
ALTER TABLE taxon ADD COLUMN provenance_looks TEXT COLLATE "C" NOT NULL DEFAULT '';

-- What people call a taxon, the usual name of each language first.
CREATE TABLE taxon_name (
    taxon_id BIGINT NOT NULL REFERENCES taxon (id),
    position BIGINT NOT NULL,
    language TEXT COLLATE "C" NOT NULL,
    name TEXT COLLATE "C" NOT NULL,
    provenance TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (taxon_id, position),
    UNIQUE (taxon_id, language, name)
);
