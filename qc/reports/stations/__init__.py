"""Stations: each one's own page, and all of them beside their own past."""
