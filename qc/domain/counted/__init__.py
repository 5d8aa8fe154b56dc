"""Frozen tables that the store hands to the statistics."""
