-- Why a span is kept out of what compares stores, and what of its nights says so.
ALTER TABLE item_days ADD COLUMN over_cap boolean NOT NULL DEFAULT false;
ALTER TABLE item_days ALTER COLUMN over_cap DROP DEFAULT;
ALTER TABLE item_spans ADD COLUMN doubts jsonb NOT NULL DEFAULT '[]';
ALTER TABLE item_spans ALTER COLUMN doubts DROP DEFAULT;
ALTER TABLE night_tallies ADD COLUMN short boolean NOT NULL DEFAULT false;
ALTER TABLE night_tallies ALTER COLUMN short DROP DEFAULT;
