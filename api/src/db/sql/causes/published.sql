SELECT valid_from, 'par_sets' AS kind, set_code AS code
FROM par_publications
WHERE valid_from BETWEEN $1 AND $2 AND recorded_at <= $3
ORDER BY valid_from, id
