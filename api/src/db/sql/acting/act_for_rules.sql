SELECT act_for_rules($1) IS NULL
