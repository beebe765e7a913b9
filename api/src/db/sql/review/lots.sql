SELECT store_id, business_date, item_id, lot FROM lots_in_review($1, $2)
