-- The hours of a forecast of the weather: a list of [unix time in seconds, air in degrees Celsius, wind in km/h, share of
-- the sky under clouds, rain within an hour in mm] as JSON, null where the service does not say. None in older rows.
ALTER TABLE air_forecast ADD COLUMN hours TEXT COLLATE "C";
