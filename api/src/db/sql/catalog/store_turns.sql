SELECT t.code, t.valid_from, v.body
FROM store_versions($1, $2) t LEFT JOIN reference_versions v ON v.id = t.id AND NOT v.retired
ORDER BY t.code, t.valid_from
