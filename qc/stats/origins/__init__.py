"""Where a defect was made, beside where it was found: what is known, and what the paths lead one to expect."""
