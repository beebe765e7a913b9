DROP FUNCTION names_of(uuid[]);
