DROP FUNCTION night_pin(text, date, smallint);
DROP TABLE night_tallies, daypart_tallies, item_spans, item_days;
