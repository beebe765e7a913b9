SELECT change_own_password($1, $2, $3, $4) AS held
