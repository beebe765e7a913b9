SELECT night_pin($1, $2) AS known_at
