INSERT INTO diary_withdrawals (entry_id, reason, withdrawn_by, withdrawn_at) VALUES ($1, $2, $3, $4)
