-- Forecasts of the air at a gauge, each kept as it was made, so that looking back sees only what was
-- known then. days is a list of [date, mean, least, greatest] as JSON, local civil days, degrees Celsius.
CREATE TABLE air_forecast (
    gauge_id INTEGER NOT NULL REFERENCES gauge (id),
    made_at INTEGER NOT NULL,
    known_at INTEGER NOT NULL,
    source TEXT NOT NULL,
    days TEXT NOT NULL,
    PRIMARY KEY (gauge_id, made_at)
) STRICT;

-- Until when a source said that there is nothing new, and when a source was last read from the beginning.
ALTER TABLE gauge_sync ADD COLUMN fresh_until_at INTEGER;
ALTER TABLE gauge_sync ADD COLUMN reread_at INTEGER;
-- Spans of the history, from/to, that could not be read: a list of texts as JSON.
ALTER TABLE gauge_sync ADD COLUMN missing TEXT;
