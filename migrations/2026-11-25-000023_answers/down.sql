ALTER TABLE writes ALTER COLUMN response SET COMPRESSION default;
ALTER TABLE writes ALTER COLUMN response TYPE jsonb USING response::jsonb;
