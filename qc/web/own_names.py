"""The names by which a machine asks for itself."""

LOOPBACK_NAMES = ("localhost", "127.0.0.1", "[::1]")
