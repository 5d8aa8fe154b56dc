"""The programs' door, /api/v1: one module for each address, all of them named in ``routes``."""
