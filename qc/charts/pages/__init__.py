"""The pictures of each page."""
