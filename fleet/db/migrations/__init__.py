"""Numbered migrations, applied by fleet/db/schema.py."""
