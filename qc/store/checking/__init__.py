"""Whether the record is what it was."""
