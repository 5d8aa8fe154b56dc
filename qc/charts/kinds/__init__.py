"""The kinds of picture, whatever they show."""
