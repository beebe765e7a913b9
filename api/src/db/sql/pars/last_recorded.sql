SELECT max(recorded_at) AS at FROM par_publications
