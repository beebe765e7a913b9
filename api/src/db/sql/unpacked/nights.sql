DELETE FROM unpacked.night_tallies t WHERE store_id = $1 RETURNING to_jsonb(t) AS row
