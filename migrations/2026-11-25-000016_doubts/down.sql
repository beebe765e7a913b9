ALTER TABLE night_tallies DROP COLUMN short;
ALTER TABLE item_spans DROP COLUMN doubts;
ALTER TABLE item_days DROP COLUMN over_cap;
