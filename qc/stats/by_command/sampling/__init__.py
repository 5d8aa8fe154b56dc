"""Sampling plans for parts from a supplier and what they let through; lists of presentations."""
