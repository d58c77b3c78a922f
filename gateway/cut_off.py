"""A conversation that ends when its time is over, however slowly the other side goes on talking."""

import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress

AGAIN_SECONDS = 0.2
"""How soon what comes about after the time is over is shut; ours."""


@contextmanager
def cut_off(seconds: float, connection: Callable[[], socket.socket | None]) -> Iterator[threading.Event]:
    """Shut the connection after so many seconds; whoever reads from it then finds its end.

    A time limit of the socket's own bounds each read only, and one octet now and then keeps within that for hours; and
    a host may have several addresses, each of which is given that time to take the connection.
    connection: the socket in use then; none yet: the one that comes about later is shut. Gives what is set once the
    time is over.
    """
    is_over, is_left = threading.Event(), threading.Event()

    def watch() -> None:
        if is_left.wait(seconds):
            return
        is_over.set()
        while not is_left.is_set():
            _shut(connection())
            is_left.wait(AGAIN_SECONDS)

    threading.Thread(target=watch, name="time limit", daemon=True).start()
    try:
        yield is_over
    finally:
        is_left.set()


def _shut(open_socket: socket.socket | None) -> None:
    if open_socket is not None:
        with suppress(OSError):
            # An SSLSocket's own shutdown takes the encryption off under the thread that reads.
            socket.socket.shutdown(open_socket, socket.SHUT_RDWR)
