SELECT DISTINCT store_id FROM unpacked.night_tallies ORDER BY store_id
