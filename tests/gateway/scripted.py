"""A server that says what it is told to, for what no proper one does."""

import contextlib
import socket
import threading
from collections.abc import Mapping
from typing import Self

DRIP_SECONDS = 0.02


class Scripted:
    """Says one thing, hears one thing, and so on, to one caller; then it hangs up, or holds the line."""

    def __init__(self, *says: bytes, holds: bool = False, in_pieces: bool = False) -> None:
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._listener.getsockname()[1]
        self.heard: list[bytes] = []
        self._says = says
        self._holds = holds
        self._in_pieces = in_pieces
        self._released = threading.Event()
        self._thread = threading.Thread(target=self._speak)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._released.set()
        self._thread.join()
        self._listener.close()

    def _speak(self) -> None:
        connection, _ = self._listener.accept()
        with connection, contextlib.suppress(OSError):
            for said in self._says:
                self._say(connection, said)
                self.heard.append(connection.recv(65_536))
            if self._holds:
                self._released.wait(60)

    def _say(self, connection: socket.socket, said: bytes) -> None:
        if not self._in_pieces:
            connection.sendall(said)
            return
        connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        for place in range(len(said)):
            connection.sendall(said[place : place + 1])


HANDSHAKE = b"\x16\x03\x03\x40\x00"
"""Head of a record of 16,384 octets of a TLS handshake (RFC 8446, 5.1)."""


class Dripping(Scripted):
    """Says the same bit again and again, each well within any time limit of a single read, until it is left.

    says: what it says before, one thing, and hears one thing, and so on.
    """

    def __init__(self, bit: bytes, *says: bytes) -> None:
        super().__init__(*says)
        self._bit = bit

    def _speak(self) -> None:
        connection, _ = self._listener.accept()
        with connection, contextlib.suppress(OSError):
            for said in self._says:
                self._say(connection, said)
                self.heard.append(connection.recv(65_536))
            while not self._released.wait(DRIP_SECONDS):
                connection.sendall(self._bit)


class Replying(Scripted):
    """Answers each command by its first four letters, in either case, and any other by ``else_``; DATA until its end.

    asked: the lines that it heard, without their ends.
    """

    def __init__(self, greeting: str, says: Mapping[str, str], else_: str = "500 Command Not Implemented") -> None:
        super().__init__()
        self._greeting, self._answers, self._else = greeting, dict(says), else_
        self.asked: list[str] = []

    def _speak(self) -> None:
        connection, _ = self._listener.accept()
        with connection, contextlib.suppress(OSError):
            lines = connection.makefile("rb")
            self._say(connection, f"{self._greeting}\r\n".encode())
            is_data = False
            for line in lines:
                said = line.decode().removesuffix("\r\n")
                self.asked.append(said)
                verb = "." if said == "." else said[:4].upper()
                if is_data and verb != ".":
                    continue
                answer = self._answers.get(verb, self._else)
                is_data = answer.startswith("354")
                self._say(connection, f"{answer}\r\n".encode())
