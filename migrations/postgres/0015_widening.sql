-- Factor by which a fit's intervals of dates are wider than the model draws them; unknown for older fits.
ALTER TABLE fit ADD COLUMN widening DOUBLE PRECISION CHECK (widening >= 1);
