"""What each kind of operation does: its row, its rule and its step."""
