"""Single units, what waits on them, and the plan by which they come."""
