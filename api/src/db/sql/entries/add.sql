-- One document, so that the text is the same for any number of entries. What it answers with are the
-- ids that were taken.
WITH facts AS (
  SELECT night.*, entry.*
  FROM jsonb_to_record($1) AS night (business_date date, store_id text, district_id text,
      region_id text, owner_id text, recorded_by uuid, recorded_at timestamptz, write_id uuid),
    jsonb_to_recordset($1 -> 'entries') AS entry (id uuid, kind text, body jsonb)
), fresh AS (
  INSERT INTO entry_ids (id, store_id, business_date)
  SELECT id, store_id, business_date FROM facts ORDER BY id
  ON CONFLICT DO NOTHING
  RETURNING id
), added AS (
  INSERT INTO entries (business_date, store_id, id, kind, body, district_id, region_id, owner_id,
    recorded_by, recorded_at, write_id)
  SELECT business_date, store_id, id, kind, body, district_id, region_id, owner_id, recorded_by,
    recorded_at, write_id
  FROM facts JOIN fresh USING (id)
)
SELECT id FROM facts EXCEPT SELECT id FROM fresh
