INSERT INTO entry_ids (id, store_id, business_date)
SELECT * FROM unnest($1::uuid[], $2::text[], $3::date[])
