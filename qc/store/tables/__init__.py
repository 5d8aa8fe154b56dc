"""What is derived from the journal: its tables, how they were made, and the one writer of their rows."""
