DROP POLICY night_settlements_review ON night_settlements;
DROP POLICY night_revisions_review ON night_revisions;
