SELECT act_for_review($1) IS NULL
