SELECT business_date, store_id, revision FROM nights_held($1)
