SELECT service_has_secret($1, $2) AS held
