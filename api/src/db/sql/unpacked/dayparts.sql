DELETE FROM unpacked.daypart_tallies t WHERE store_id = $1 RETURNING to_jsonb(t) AS row
