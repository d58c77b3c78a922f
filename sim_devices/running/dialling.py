"""Connecting many devices to a broker: a few at a time, by threads that may wait for it."""

import socket
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

from gateway.endpoint import Endpoint

DIALLERS = 8
"""So many connections may be under way at once (ours)."""

DIAL_SECONDS = 5.0

Dialled = socket.socket | str
"""A connected socket, or in a few words why there is none."""


class Dialling:
    """Connects to a broker, by TLS where its address says so.

    Raises:
        gateway.endpoint.EndpointError: the file of authorities to trust cannot be used.
    """

    def __init__(self, endpoint: Endpoint) -> None:
        self._endpoint = endpoint
        self._context = endpoint.tls_context()
        self._pool = ThreadPoolExecutor(DIALLERS, thread_name_prefix="dial")

    def dial(self, tell: Callable[[Dialled], None]) -> None:
        """Connect in the background; ``tell`` is called by another thread."""
        self._pool.submit(lambda: tell(self._dialled()))

    def stop(self) -> None:
        """Connect no more; waits for what is under way."""
        self._pool.shutdown(cancel_futures=True)

    def _dialled(self) -> Dialled:
        endpoint = self._endpoint
        try:
            sock = socket.create_connection((endpoint.host, endpoint.port), timeout=DIAL_SECONDS)
            sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            # The context closes the socket where the handshake fails, and says plainly why.
            return sock if self._context is None else self._context.wrap_socket(sock, server_hostname=endpoint.host)
        except (OSError, ValueError) as error:  # ValueError: a name that cannot be a host's
            return str(getattr(error, "strerror", None) or error).lower()
