DROP FUNCTION act_for_prep(text);
DROP POLICY par_revisions_read ON par_revisions;
DROP TABLE par_publications;
DROP TABLE par_revisions;
