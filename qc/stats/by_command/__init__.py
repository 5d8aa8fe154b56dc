"""Statistics that no page shows: `qc stat` alone asks them."""
