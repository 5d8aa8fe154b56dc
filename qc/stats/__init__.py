"""Statistics on counts: pure functions that answer with their evidence."""
