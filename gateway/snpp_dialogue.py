"""The Simple Network Paging Protocol as it is spoken (RFC 1861, informational): lines out, codes and words back.

The RFC has one reply to a command, and nobody numbers them: a terminal that says more is left, for its word to an
earlier command could pass for that to SEND.
"""

import re
import socket
from dataclasses import dataclass, field
from typing import NamedTuple

LONGEST_LINE = 1024
MOST_LINES = 200
"""What a server may say at once. The RFC has no bounds; ours, far above any reply that it shows."""

LONGEST_COMMAND = 500
"""Octets of a command that every server should take; ours, after SMTP's 512 (RFC 5321, 4.5.3.1.4), as SNPP has none."""

_CODED = re.compile(r"(\d{3})(-?)[ \t]*(.*)", re.DOTALL)
_INFORMATION = frozenset((214, 218))
"""Help and news, of one line or several (RFC 1861, 4.2.1 and 4.2.2); no command that we say is answered by them."""


class SnppError(Exception):
    """The server did not speak SNPP, or not any more; one plain sentence."""


class Answer(NamedTuple):
    """A reply: its code and its words."""

    code: int
    words: str

    @property
    def kind(self) -> int:
        """First digit: 2 done, 3 go on, 4 failed and closed, 5 failed; of two-way 7 failed, 8 done, 9 queued (4)."""
        return self.code // 100

    def __str__(self) -> str:
        return f"{self.code} {self.words}".strip()


@dataclass(slots=True)
class Dialogue:
    """One conversation; how long it may last is for whoever owns the connection.

    Raises from all methods ``SnppError``, and ``OSError`` of the connection.
    """

    connection: socket.socket
    _heard: bytearray = field(default_factory=bytearray)

    def greeted(self) -> Answer:
        """What the server says first."""
        return self._answer()

    def ask(self, *words: str) -> Answer:
        """Say a command, and hear the answer."""
        self._say(" ".join(words))
        return self._answer()

    def ask_with_lines(self, *lines: str) -> Answer:
        """DATA: the answer to the lines, or to the command where the server takes none.

        A full stop that begins a line may end them, as 4.4.1 can be read: a blank goes before it.
        """
        answer = self.ask("DATA")
        if answer.kind != 3:  # noqa: PLR2004 - as ``Answer.kind`` has it
            return answer
        for line in lines:
            self._say(f" {line}" if line.startswith(".") else line)
        return self.ask(".")

    def _say(self, line: str) -> None:
        if self._heard.strip():
            raise SnppError("it says more than it was asked for")
        octets = line.encode("ascii")
        if len(octets) > LONGEST_COMMAND or not line.isprintable():
            raise SnppError("a line is too long or has signs that SNPP has no place for")
        self.connection.sendall(octets + b"\r\n")

    def _answer(self) -> Answer:
        """The next reply that is one: what only informs (214, 218) and lines of it without a code are passed over."""
        is_informing = False
        for _ in range(MOST_LINES):
            line = self._line()
            coded = _CODED.fullmatch(line)
            if coded is None:
                if is_informing or not line:
                    continue
                raise SnppError("it does not speak SNPP: a line without a code")
            code, goes_on, words = int(coded[1]), bool(coded[2]), coded[3]
            is_informing = code in _INFORMATION or goes_on
            if not is_informing:
                return Answer(code, words)
        raise SnppError("it says more than it was asked for")

    def _line(self) -> str:
        while b"\n" not in self._heard:
            if len(self._heard) > LONGEST_LINE:
                raise SnppError("it does not speak SNPP: a line that does not end")
            octets = self.connection.recv(LONGEST_LINE)
            if not octets:
                raise SnppError("it ended the connection")
            self._heard += octets
        line, _, rest = bytes(self._heard).partition(b"\n")
        self._heard = bytearray(rest)
        if len(line) > LONGEST_LINE:
            raise SnppError("it does not speak SNPP: a line that does not end")
        return "".join(sign for sign in line.decode("latin-1") if sign.isprintable() or sign == " ").strip()
