-- Forecasts of the air at a gauge, each kept as it was made, so that looking back sees only what was
-- known then. days is a list of [date, mean, least, greatest] as JSON, local civil days, degrees Celsius.
CREATE TABLE air_forecast (
    gauge_id BIGINT NOT NULL REFERENCES gauge (id),
    made_at BIGINT NOT NULL,
    known_at BIGINT NOT NULL,
    source TEXT COLLATE "C" NOT NULL,
    days TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (gauge_id, made_at)
);

-- Until when a source said that there is nothing new, and when a source was last read from the beginning.
ALTER TABLE gauge_sync ADD COLUMN fresh_until_at BIGINT;
ALTER TABLE gauge_sync ADD COLUMN reread_at BIGINT;
-- Spans of the history, from/to, that could not be read: a list of texts as JSON.
ALTER TABLE gauge_sync ADD COLUMN missing TEXT COLLATE "C";
