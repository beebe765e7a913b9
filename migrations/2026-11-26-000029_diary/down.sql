DROP TABLE diary_withdrawals;
DROP TABLE diary_entries;
