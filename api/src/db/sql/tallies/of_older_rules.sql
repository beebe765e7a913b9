SELECT DISTINCT store_id FROM nights WHERE rules < $1 ORDER BY store_id
