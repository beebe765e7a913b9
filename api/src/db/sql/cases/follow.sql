UPDATE cases SET district_id = $2 WHERE id = $1
