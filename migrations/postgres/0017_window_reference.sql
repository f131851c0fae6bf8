-- The waters that the season window of a taxon speaks of; unknown means those that it lives in.
ALTER TABLE taxon ADD COLUMN window_reference TEXT COLLATE "C";
