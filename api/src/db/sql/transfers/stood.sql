SELECT store_stood($1, $2, $3) AS stood
