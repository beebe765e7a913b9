DROP FUNCTION act_for_rules(text);
DROP TABLE till_batches, night_revisions, entry_withdrawals, entries, entry_ids, writes;
DROP FUNCTION make_partitions(date, date);
