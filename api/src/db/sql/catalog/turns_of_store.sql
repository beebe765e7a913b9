SELECT t.code, t.valid_from, v.body
FROM versions_of_store($1, $2, $3) t
  LEFT JOIN reference_versions v ON v.id = t.id AND NOT v.retired
ORDER BY t.valid_from
