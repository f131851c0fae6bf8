-- What winged insects look like: lists of words as JSON text; missing where nobody said.
ALTER TABLE taxon ADD COLUMN tails TEXT;
ALTER TABLE taxon ADD COLUMN body_colours TEXT;
ALTER TABLE taxon ADD COLUMN wing_colours TEXT;
ALTER TABLE taxon ADD COLUMN provenance_looks TEXT NOT NULL DEFAULT '';

-- What people call a taxon, the usual name of each language first.
CREATE TABLE taxon_name (
    taxon_id INTEGER NOT NULL REFERENCES taxon (id),
    position INTEGER NOT NULL,
    language TEXT NOT NULL,
    name TEXT NOT NULL,
    provenance TEXT NOT NULL,
    PRIMARY KEY (taxon_id, position),
    UNIQUE (taxon_id, language, name)
) STRICT;
