"""Plays the invented plant through the same door as a phone."""
