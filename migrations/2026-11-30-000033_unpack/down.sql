DROP VIEW night_tallies;
DROP VIEW daypart_tallies;
DROP VIEW item_spans;
DROP VIEW item_days;
DROP FUNCTION night_parts(text, text, bytea);
DROP FUNCTION packed_record(bigint[], integer, integer);
DROP FUNCTION packed_numbers(bytea);
