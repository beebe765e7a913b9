SELECT first_accepted($1, $2) AS at
