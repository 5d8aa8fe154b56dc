"""The server's own mail: handed to the plant's mail server for who asked for it, and noted so that none goes twice."""
