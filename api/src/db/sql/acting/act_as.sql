SELECT name, role, places FROM act_as($1, $2)
