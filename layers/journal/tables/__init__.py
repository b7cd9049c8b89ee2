"""The database behind the journal: engine, schema and side tables."""
