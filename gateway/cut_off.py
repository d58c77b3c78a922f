"""A conversation that ends when its time is over, however slowly the other side goes on talking."""

import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress


@contextmanager
def cut_off(seconds: float, connection: Callable[[], socket.socket | None]) -> Iterator[threading.Event]:
    """Shut the connection after so many seconds; whoever reads from it then finds its end.

    A time limit of the socket's own bounds each read only, and one octet now and then keeps within that for hours.
    connection: the socket in use then; none yet: nothing is to be shut. Gives what is set once it was cut off.
    """
    is_over = threading.Event()

    def cut() -> None:
        is_over.set()
        open_socket = connection()
        if open_socket is not None:
            with suppress(OSError):
                # An SSLSocket's own shutdown takes the encryption off under the thread that reads.
                socket.socket.shutdown(open_socket, socket.SHUT_RDWR)

    timer = threading.Timer(seconds, cut)
    timer.daemon = True
    timer.start()
    try:
        yield is_over
    finally:
        timer.cancel()
