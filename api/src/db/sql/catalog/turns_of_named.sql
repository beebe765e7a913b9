SELECT t.code, t.valid_from, v.body
FROM unnest($1) AS named (code), versions_of_store(named.code, $2, $3) t
  LEFT JOIN reference_versions v ON v.id = t.id AND NOT v.retired
ORDER BY t.code, t.valid_from
