"""Migrations of the records, run by `readback.records.database`."""
