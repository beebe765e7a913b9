SELECT store_id FROM entries
UNION SELECT store_id FROM night_revisions
UNION SELECT store_id FROM till_batches
UNION SELECT store_id FROM nights
ORDER BY store_id
