"""How far raters agree, beyond chance and against the truth."""
