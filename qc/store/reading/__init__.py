"""What pages and phones read of units."""
