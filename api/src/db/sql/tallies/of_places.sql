SELECT store_id, business_date, n.rules, n.district_id, n.region_id, n.owner_id, n.known_at,
  n.generation, n.revision, n.counted, n.others, n.packed
FROM unnest($1::text[], $2::date[]) AS place (store_id, business_date)
  JOIN nights n USING (store_id, business_date)
