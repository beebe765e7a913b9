DROP TABLE reference_versions;
