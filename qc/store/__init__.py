"""The journal and what is derived from it; the only place where SQL stands."""
