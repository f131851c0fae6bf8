-- How good the forecasts of a taxon and brood would have been, with years left out. One row each,
-- replaced when it is computed again; scores is the table of scores as JSON.
CREATE TABLE skill (
    watershed_id BIGINT NOT NULL REFERENCES watershed (id),
    taxon_id BIGINT NOT NULL REFERENCES taxon (id),
    brood BIGINT NOT NULL,
    computed_at BIGINT NOT NULL,
    scores TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (watershed_id, taxon_id, brood)
);
