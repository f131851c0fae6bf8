-- Scores now tell of hours and spinner flights too. What was stored lacks them; it is computed again
-- after the next fit.
DELETE FROM skill;
