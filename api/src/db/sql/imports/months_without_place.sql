SELECT month AS date
FROM unnest($1::date[]) AS month
WHERE to_regclass('night_revisions_' || to_char(month, 'YYYY_MM')) IS NULL
ORDER BY month
