"""Forms for any kind of record, made from its model."""
