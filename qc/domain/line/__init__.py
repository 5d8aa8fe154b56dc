"""What is held of the line and not of a unit, and what a rule is asked about."""
