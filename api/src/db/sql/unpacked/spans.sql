DELETE FROM unpacked.item_spans t WHERE store_id = $1 RETURNING to_jsonb(t) AS row
