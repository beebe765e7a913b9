ALTER TABLE night_revisions DROP COLUMN shelves;
