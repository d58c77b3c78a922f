"""The stream under a paho client: one read brings many packets, one write takes many, and messages pass paho by."""

import contextlib
import socket
import ssl
from typing import cast

from paho.mqtt.client import Client

CHUNK_OCTETS = 64 * 1024


class Stream:
    """A socket as paho sees it: it reads what it is handed, and writes into a buffer.

    paho reads a packet in three system calls and writes each in one; every one of them lets go of the interpreter,
    which then has to be waited for while the pump is at work.

    To be used by one thread, but for ``shut``.
    """

    def __init__(self, sock: socket.socket) -> None:
        self._sock = sock
        self._is_tls = isinstance(sock, ssl.SSLSocket)
        self._in = b""
        self._out = bytearray()

    # ---- what paho uses -------------------------------------------------------------------------------------------

    def recv(self, most: int) -> bytes:
        """From what was handed in; raises BlockingIOError where nothing is left of it."""
        if not self._in:
            raise BlockingIOError
        octets, self._in = self._in[:most], self._in[most:]
        return octets

    def send(self, octets: bytes | bytearray) -> int:
        """Takes all of it, to be sent with the next ``flush``."""
        self._out += octets
        return len(octets)

    def fileno(self) -> int:
        """Of the socket."""
        return self._sock.fileno()

    def setblocking(self, flag: bool) -> None:  # noqa: FBT001 - the library's signature
        """As a socket's own."""
        self._sock.setblocking(flag)

    def close(self) -> None:
        """Closes the socket, having sent what it takes at once."""
        with contextlib.suppress(OSError):
            self.flush()
        self._sock.close()

    # ---- what the connection uses ---------------------------------------------------------------------------------

    def receive(self) -> bytes | None:
        """What has come from the broker, about a chunk at most; None where nothing has, empty where it has hung up."""
        first = self._receive_once()
        if not self._is_tls or not first:
            return first
        # Of an encrypted stream one reading gives what the broker wrote in one go, often a single packet.
        octets = bytearray(first)
        while len(octets) < CHUNK_OCTETS and (more := self._receive_once()):
            octets += more
        return bytes(octets)

    def _receive_once(self) -> bytes | None:
        try:
            return self._sock.recv(CHUNK_OCTETS)
        except (BlockingIOError, ssl.SSLWantReadError, ssl.SSLWantWriteError):
            return None

    def hand(self, octets: bytes) -> None:
        """For paho to read next."""
        self._in += octets

    def flush(self) -> None:
        """Sends as much as the socket takes now; raises OSError where it is broken."""
        if self._out:
            with contextlib.suppress(BlockingIOError, ssl.SSLWantReadError, ssl.SSLWantWriteError):
                del self._out[: self._sock.send(self._out)]

    @property
    def wants_write(self) -> bool:
        """Whether something waits for room in the socket."""
        return bool(self._out)

    @property
    def has_pending(self) -> bool:
        """Whether decrypted octets wait inside the TLS layer, where a selector cannot see them."""
        return isinstance(self._sock, ssl.SSLSocket) and self._sock.pending() > 0

    def shut(self) -> None:
        """From any thread: no more in or out; wakes a thread that waits on the socket, which then closes it."""
        with contextlib.suppress(OSError):
            # Not that of an SSLSocket, which first takes the encryption off for whoever still reads or sends.
            socket.socket.shutdown(self._sock, socket.SHUT_RDWR)


class StreamClient(Client):
    """A paho client on a Stream."""

    def _create_socket(self) -> Stream:
        # Not in paho's public interface, which has no place for a socket of ours. Where a new paho makes its socket
        # elsewhere, ``stream`` says so at the first connection.
        return Stream(cast("socket.socket", super()._create_socket()))

    @property
    def stream(self) -> Stream | None:
        """The stream of the present connection.

        Raises:
            TypeError: paho has made its socket without asking us.
        """
        sock = self.socket()
        if sock is None or isinstance(sock, Stream):
            return sock
        raise TypeError("this version of paho-mqtt makes its socket in a way that Sinkside does not know")
