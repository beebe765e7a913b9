DO $$
DECLARE
  kept record;
BEGIN
  FOR kept IN
    SELECT t.name, k.part FROM (VALUES
      ('night_revisions', 'body'), ('night_revisions', 'checks'), ('entries', 'body'),
      ('till_batches', 'body'), ('daypart_tallies', 'times'), ('item_days', 'waste')
    ) AS k (parent, part), LATERAL (
      SELECT k.parent::regclass AS name
      UNION ALL SELECT inhrelid::regclass FROM pg_inherits WHERE inhparent = k.parent::regclass
    ) t
  LOOP
    EXECUTE format('ALTER TABLE %s ALTER COLUMN %I SET COMPRESSION default', kept.name, kept.part);
  END LOOP;
END
$$;
