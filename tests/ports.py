"""A port for a server that a test ends and begins again: it must stay free while nobody listens."""

import os
import secrets
import socket
from pathlib import Path

HIGHEST = 32_000  # below what systems give to clients: RFC 6335, section 6, from 49152; Linux from 32768
LOWEST = 20_000  # above the ports that browsers refuse to ask
SIDE_BY_SIDE = 16  # workers that never take one another's port while its server is down


def free_port() -> int:
    """Return a port of this machine on which nobody listens, and which no client is given as its own.

    A port that the system chose belongs to the range of clients' ports: while a test's server is down, any connection
    of another test may take it, and the server cannot begin again. For the same reason workers side by side have ports
    of their own each. Raises OSError where none of many tries is free.
    """
    own = int(os.environ.get("PYTEST_XDIST_WORKER", "gw0").removeprefix("gw")) % SIDE_BY_SIDE
    lowest, highest = LOWEST, min(HIGHEST, _first_of_clients() - 1)
    for _ in range(100):
        port = lowest + secrets.randbelow(highest - lowest - SIDE_BY_SIDE)
        port += (own - port) % SIDE_BY_SIDE
        with socket.socket() as probe:
            try:
                probe.bind(("127.0.0.1", port))
            except OSError:
                continue
            return port
    raise OSError(f"no port from {lowest} to {highest} is free")


def _first_of_clients() -> int:
    asked = Path("/proc/sys/net/ipv4/ip_local_port_range")
    return int(asked.read_text().split()[0]) if asked.exists() else HIGHEST
