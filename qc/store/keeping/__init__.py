"""Keeping a record for years: backups, what it needs of its machine, keys that were lost."""
