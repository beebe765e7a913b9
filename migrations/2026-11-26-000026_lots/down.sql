DROP FUNCTION lots_in_review(date, date);
REVOKE SELECT (business_date, item_id, used_cost) ON item_spans FROM parings_signin;
DROP POLICY item_spans_lots ON item_spans;
DROP POLICY entries_lots ON entries;
DROP INDEX entries_lots;
