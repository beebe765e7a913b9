SELECT id, name FROM names_of($1)
