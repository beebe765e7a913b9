SELECT max(version)::text AS version FROM __diesel_schema_migrations
