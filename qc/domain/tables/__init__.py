"""A plant's folder of tables: read, checked, changed, drawn, worded in another language."""
