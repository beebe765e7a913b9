-- What a count said of its shelves, packed by core (`parings_core::night::shelves`): the checks of a night
-- look at those of four weeks, and need nothing else of the documents. Counts from before this have none;
-- of them the document is read.
ALTER TABLE night_revisions ADD COLUMN shelves bytea;
-- Bytes stay beside the row; the document is what moves away.
ALTER TABLE night_revisions ALTER COLUMN shelves SET STORAGE MAIN;
