"""The socket that the pages are served by."""

from __future__ import annotations

import socket

from lightoff.cli import serving


def test_the_socket_says_that_it_is_tcp() -> None:
    """The event loop sends small packets at once only then; else every answer comes 40 ms late."""
    with serving._listening("127.0.0.1", 0) as listener:
        assert listener.proto == socket.IPPROTO_TCP
