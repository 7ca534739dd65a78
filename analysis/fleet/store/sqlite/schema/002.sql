-- The resistance is learnt from all seconds, not from steps: resistance_s took
-- the place of this column.
ALTER TABLE rides DROP COLUMN resistance_steps;
