"""What looks at units find and miss: first-pass, two looks at one unit, inspectors on the same units."""
