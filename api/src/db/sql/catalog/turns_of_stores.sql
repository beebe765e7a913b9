SELECT t.code, t.valid_from, v.body
FROM versions_of_stores($1, $2, $3, $4) t
  LEFT JOIN reference_versions v ON v.id = t.id AND NOT v.retired
ORDER BY t.code, t.valid_from
