INSERT INTO cases SELECT * FROM jsonb_populate_recordset(NULL::cases, $1)
