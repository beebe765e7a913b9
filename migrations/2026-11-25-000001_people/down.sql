-- The roles stay: other databases of the cluster may use them.
DROP FUNCTION act_as(uuid);
DROP TABLE audit, refresh_families_ended, refresh_tokens, people;
DROP FUNCTION acting_owners(), acting_districts(), acting_stores(), acting_role(), acting_person();
REVOKE SELECT ON __diesel_schema_migrations FROM parings_app;
REVOKE USAGE ON SCHEMA public FROM parings_app, parings_signin, parings_jobs, parings_read;
GRANT USAGE ON SCHEMA public TO PUBLIC;
