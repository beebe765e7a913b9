-- A night that says something else is of another generation, and a diary may set nights aside.
SELECT md5(
    coalesce(string_agg(store_id || ' ' || business_date || ' ' || generation, ','
      ORDER BY store_id, business_date), '')
    || (SELECT count(*) FROM diary_entries) || ' ' || (SELECT count(*) FROM diary_withdrawals)
  ) AS seen
FROM nights
WHERE business_date BETWEEN $1 AND $2
