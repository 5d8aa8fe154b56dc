"""How sure the order of a Pareto is."""
