SELECT id, name, role, places FROM told_of($1)
