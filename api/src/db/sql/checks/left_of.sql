SELECT name FROM left_of($1)
