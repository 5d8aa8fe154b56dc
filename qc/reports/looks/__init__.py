"""Inspectors on the same units."""
