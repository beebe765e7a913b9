ALTER TABLE nights DROP CONSTRAINT nights_pkey;
ALTER TABLE nights ADD PRIMARY KEY (store_id, business_date);
DROP TABLE weeks;
DROP FUNCTION stands_by(date, bigint);
DROP FUNCTION week_of(date);
