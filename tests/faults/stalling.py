"""Clients that begin and never end: bare connections, half a handshake, half a head, half a body. Loopback only."""

import socket
import ssl
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from itertools import cycle, islice

HALF_HEAD = b"POST /api/v1/push HTTP/1.1\r\nHost: localhost\r\nContent-Le"
HALF_BODY = (
    b"POST /api/v1/push HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"
    b'Content-Length: 20000\r\n\r\n{"protocol": 2, "operations": [' + b" " * 3000
)
HALF_PHOTO = (
    b"PATCH /api/v1/photos/"
    + b"0" * 64
    + b" HTTP/1.1\r\nHost: localhost\r\nUpload-Offset: 0\r\nUpload-Length: 300000\r\n"
    b"Content-Type: application/offset+octet-stream\r\nContent-Length: 300000\r\n\r\n" + b"\xff" * 30_000
)


@dataclass(frozen=True)
class Stall:
    """A way to stall: what is sent over the (TLS) connection before the silence; handshake False: not even that."""

    name: str
    sent: bytes = b""
    handshake: bool = True


STALLS = (
    Stall("nothing sent", handshake=False),
    Stall("half a head", HALF_HEAD),
    Stall("half a push", HALF_BODY),
    Stall("half a photo", HALF_PHOTO),
)


@contextmanager
def stalled(
    port: int, root: str | None, sources: list[str], stalls=STALLS, many: int = 100
) -> Iterator[list[socket.socket]]:
    """Hold ``many`` stalled connections to a port of this machine, the ways and the source addresses in turn."""
    context = ssl.create_default_context(cafile=root) if root else None
    with ExitStack() as held:
        made = []
        for stall, source in islice(zip(cycle(stalls), cycle(sources)), many):
            connection = socket.create_connection(("127.0.0.1", port), 20, (source, 0))
            if context and stall.handshake:
                connection = context.wrap_socket(connection, server_hostname="localhost")
            held.enter_context(connection)
            if stall.sent:
                connection.sendall(stall.sent)
            made.append(connection)
        yield made
