SELECT act_for_nightly() IS NULL
