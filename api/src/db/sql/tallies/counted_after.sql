SELECT item_id, (
    SELECT n.business_date FROM nights n
    WHERE n.store_id = $2 AND n.business_date > $3
      AND strpos(n.counted, ' ' || item_id || ' ') > 0
    ORDER BY n.business_date LIMIT 1
  ) AS business_date
FROM unnest($1::text[]) AS item_id
