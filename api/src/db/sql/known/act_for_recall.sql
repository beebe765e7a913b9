SELECT act_for_recall($1) IS NULL
