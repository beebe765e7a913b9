SELECT make_partitions($1, $2) AS made
