"""The manager's week, one module for each of its questions."""
