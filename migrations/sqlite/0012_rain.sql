-- Rain during a visit, mm within an hour, where it was noted.
ALTER TABLE record ADD COLUMN rain_mm REAL;
