SELECT act_for_prep($1) IS NULL
