SELECT touched.store_id, touched.business_date, EXISTS (
    SELECT FROM night_pins p
    WHERE p.store_id = touched.store_id AND p.business_date = touched.business_date
      AND p.recorded_at <= $3
  ) AS tallied
FROM (
    SELECT store_id, business_date FROM entries
      WHERE business_date BETWEEN $1 AND $2 AND recorded_at > $3
    UNION SELECT store_id, business_date FROM entry_withdrawals
      WHERE business_date BETWEEN $1 AND $2 AND withdrawn_at > $3
    UNION SELECT store_id, business_date FROM till_batches
      WHERE business_date BETWEEN $1 AND $2 AND recorded_at > $3
    UNION SELECT store_id, business_date FROM night_revisions
      WHERE business_date BETWEEN $1 AND $2 AND recorded_at > $3
    UNION SELECT store_id, business_date FROM night_settlements
      WHERE business_date BETWEEN $1 AND $2 AND recorded_at > $3
    UNION SELECT store_id, business_date FROM night_pins
      WHERE business_date BETWEEN $1 AND $2 AND recorded_at > $3
  ) AS touched
ORDER BY touched.store_id, touched.business_date
LIMIT $4
