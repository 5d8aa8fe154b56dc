"""A report's numbers as plotly figures (plain dicts), small SVG and table rows."""
