-- The scale in which the pages of a water tell temperatures to whoever does not choose: c or f.
ALTER TABLE watershed ADD COLUMN units TEXT NOT NULL DEFAULT 'c' CHECK (units IN ('c', 'f'));
