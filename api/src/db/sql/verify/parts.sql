SELECT n.business_date, p.part, p.codes, p.numbers
FROM nights n, LATERAL night_parts(n.counted, n.others, n.packed) p
WHERE n.store_id = $1
