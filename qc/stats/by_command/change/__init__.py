"""Trends, regressions on columns, before and after an action, types against each other."""
