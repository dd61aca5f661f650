"""A page that is really served, from a thread of its own."""

from __future__ import annotations

import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager

import uvicorn

from tests.web.sending import HOST


@contextmanager
def serving(config: uvicorn.Config, *, waiting: int = 100) -> Iterator[int]:
    """The port at which it answers, until the block ends. waiting: connections that the system keeps in line."""
    with socket.create_server((HOST, 0), backlog=waiting) as listening:
        server = uvicorn.Server(config)
        thread = threading.Thread(target=lambda: server.run(sockets=[listening]))
        thread.start()
        try:
            yield listening.getsockname()[1]
        finally:
            server.should_exit = True
            thread.join(30)
