-- Fits that no forecast rests on are dropped: whether one does is asked for each.
CREATE INDEX forecast_by_fit ON forecast (fit_id);
