REVOKE EXECUTE ON FUNCTION store_in_force(text, date, timestamptz) FROM parings_read;
DROP FUNCTION versions_of_store(text, date, timestamptz);
