REVOKE UPDATE (password_hash, changed_at) ON people FROM parings_signin;
DROP FUNCTION change_own_password(uuid, text, text, timestamptz);
