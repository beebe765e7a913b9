-- More rows than the little memory holds: the rest goes to a temporary file, on the disk of the database.
SELECT count(*) FROM generate_series(1, 20000)
