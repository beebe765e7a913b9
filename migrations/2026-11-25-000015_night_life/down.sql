DROP TABLE night_answers, night_settlements;
ALTER TABLE night_tallies DROP COLUMN items_left_out;
ALTER TABLE night_revisions DROP COLUMN proposal, DROP COLUMN checks, DROP COLUMN state;
