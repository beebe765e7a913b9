SELECT id, password_hash, disabled FROM account_of($1)
