SELECT store_id FROM night_revisions
  WHERE business_date BETWEEN $1 AND $2 AND ($3 IS NULL OR district_id = $3)
UNION SELECT store_id FROM entries
  WHERE business_date BETWEEN $1 AND $2 AND ($3 IS NULL OR district_id = $3)
UNION SELECT store_id FROM till_batches
  WHERE business_date BETWEEN $1 AND $2 AND ($3 IS NULL OR district_id = $3)
ORDER BY store_id
