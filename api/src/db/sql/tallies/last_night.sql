SELECT max(business_date) AS business_date FROM nights
