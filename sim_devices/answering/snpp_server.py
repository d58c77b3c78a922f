"""A paging terminal on this machine that speaks SNPP (RFC 1861) strictly, for tests and for the demo's pagers."""

import socketserver
import threading
from contextlib import suppress
from typing import Self

from sim_devices.answering.pager_book import PagerBook
from sim_devices.answering.snpp_session import SnppSession

LONGEST_LINE = 1024
MOST_CONVERSATIONS = 16
IDLE_SECONDS = 30.0
STOP_SECONDS = 0.05
"""Bounds of a conversation, and how soon an end is noticed; ours, where the RFC leaves them to the server."""


class _Conversation(socketserver.StreamRequestHandler):
    server: "_Listener"

    def handle(self) -> None:
        self.connection.settimeout(self.server.idle_seconds)
        with suppress(ConnectionError):  # the caller has gone, which ends the conversation as well
            if not self.server.places.acquire(blocking=False):
                self._say("421 Too many conversations, goodbye")
                return
            try:
                self._converse(SnppSession(self.server.book))
            except TimeoutError:
                self._say("421 Timeout, goodbye")
            finally:
                self.server.places.release()

    def _converse(self, session: SnppSession) -> None:
        self._say(session.greeting())
        while not session.is_over:
            line = self.rfile.readline(LONGEST_LINE + 1)
            if not line:
                return
            if len(line) > LONGEST_LINE:
                self._say("421 Line too long, goodbye")
                return
            for said in session.hear(line.rstrip(b"\r\n").decode("latin-1")):
                self._say(said)

    def _say(self, line: str) -> None:
        self.wfile.write(f"{line}\r\n".encode("latin-1"))


class _Listener(socketserver.ThreadingTCPServer):
    daemon_threads = True
    block_on_close = False
    allow_reuse_address = True

    def __init__(self, port: int, book: PagerBook, idle_seconds: float) -> None:
        self.book = book
        self.idle_seconds = idle_seconds
        self.places = threading.BoundedSemaphore(MOST_CONVERSATIONS)
        super().__init__(("127.0.0.1", port), _Conversation)


class SnppServer:
    """Serves between ``start`` and ``stop``, or as a context; ``port`` 0 takes a free one.

    idle_seconds: after so long without a word a conversation is ended (RFC 1861, 4.8).
    """

    def __init__(self, book: PagerBook, port: int = 0, idle_seconds: float = IDLE_SECONDS) -> None:
        self._listener = _Listener(port, book, idle_seconds)
        self._thread = threading.Thread(target=self._listen, name="pagers", daemon=True)

    @property
    def port(self) -> int:
        """Where it listens, on 127.0.0.1."""
        return int(self._listener.server_address[1])

    def start(self) -> None:
        """Listen."""
        self._thread.start()

    def stop(self) -> None:
        """Take no more conversations."""
        self._listener.shutdown()
        self._listener.server_close()
        self._thread.join()

    def _listen(self) -> None:
        self._listener.serve_forever(poll_interval=STOP_SECONDS)

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()
