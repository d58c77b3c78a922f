"""MQTT 3.1.1 packets as they come off the stream: PUBLISH is read, the others are passed on as they are.

Section numbers are those of MQTT 3.1.1 (OASIS, 2014).
"""

import struct
from collections.abc import Collection
from typing import NamedTuple

from gateway.senml import MOST_OCTETS

MOST_KEPT = MOST_OCTETS + 1
"""Octets kept of a payload; enough for the wire to see that it is too large."""

_MOST_HELD = 2 + 0xFFFF + 2 + MOST_KEPT  # topic, packet id and what is kept of the payload
_PUBLISH = 0x30
_TYPE = 0xF0
_DUP, _RETAIN = 0x08, 0x01
_QOS_1, _QOS_BITS = 0x02, 0x06
_MORE = 0x80
_PUBACK = 0x4002_0000  # fixed header and remaining length of section 3.4, followed by the packet id


class PacketError(ConnectionError):
    """What the broker sends is no MQTT that it may send us; the connection is of no use any more."""


class Publish(NamedTuple):
    """A message (section 3.3).

    topic: the replacement character where it is no UTF-8, which no broker should let through.
    payload: at most ``MOST_KEPT`` octets of it.
    mid: packet id; 0 at QoS 0, which has none. It is never of QoS 2, for we ask for 1 at most (section 3.8.4).
    again: DUP, the broker may have delivered it before.
    """

    topic: str
    payload: bytes
    mid: int
    retained: bool
    again: bool


def pubacks(mids: Collection[int]) -> bytes:
    """The PUBACK packets of these packet ids, in order."""
    return struct.pack(f">{len(mids)}I", *[_PUBACK | mid for mid in mids])


class Splitter:
    """Cuts a stream of octets into packets; what is not whole yet waits for the rest."""

    def __init__(self) -> None:
        self._rest = b""
        self._large: Publish | None = None
        self._to_skip = 0

    def split(self, octets: bytes) -> list[Publish | bytes]:
        """The packets that these octets complete.

        Raises:
            PacketError: the stream cannot be read on.
        """
        found: list[Publish | bytes] = []
        if self._large is not None:
            octets = self._skip(self._large, octets, found)
        buffer = self._rest + octets if self._rest else octets
        at, end = 0, len(buffer)
        while end - at > 1:
            first, length, body = buffer[at], buffer[at + 1], at + 2
            if length & _MORE:
                length, body = _long_length(buffer, at + 1)
                if not body:
                    break
            stop = body + length
            if stop > end:
                if length > _MOST_HELD and end - body >= _MOST_HELD:
                    self._large, self._to_skip = _publish(first, buffer[body:]), stop - end
                    at = end
                break
            found.append(_publish(first, buffer[body:stop]) if first & _TYPE == _PUBLISH else buffer[at:stop])
            at = stop
        self._rest = buffer[at:]
        return found

    def _skip(self, large: Publish, octets: bytes, found: list[Publish | bytes]) -> bytes:
        """Pass over the end of a payload too large to be used; gives what follows it."""
        rest = octets[self._to_skip :]
        self._to_skip -= len(octets) - len(rest)
        if not self._to_skip:
            self._large = None
            found.append(large)
        return rest


def _long_length(buffer: bytes, at: int) -> tuple[int, int]:
    """A remaining length of two to four octets (section 2.2.3), and where it ends; 0 where it is not whole yet."""
    length = 0
    for place, octet in enumerate(buffer[at : at + 4]):
        length |= (octet & ~_MORE) << (7 * place)
        if not octet & _MORE:
            return length, at + place + 1
    if len(buffer) - at >= 4:  # noqa: PLR2004 - four octets at most
        raise PacketError("the broker sent a packet whose length has more than four octets")
    return 0, 0


def _publish(first: int, body: bytes) -> Publish:
    if first & _TYPE != _PUBLISH:
        raise PacketError(f"the broker sent a packet of type {first >> 4} larger than any that it may send")
    qos = first & _QOS_BITS
    topic_end = 2 + (body[0] << 8 | body[1]) if len(body) > 1 else 2
    begin = topic_end + 2 if qos else topic_end
    if begin > len(body) or qos > _QOS_1:
        raise PacketError("the broker sent a message that is malformed or of a QoS that was not asked for")
    return Publish(
        _topic(body[2:topic_end]),
        body[begin : begin + MOST_KEPT],
        body[topic_end] << 8 | body[topic_end + 1] if qos else 0,
        first & _RETAIN != 0,
        first & _DUP != 0,
    )


def _topic(octets: bytes) -> str:
    try:
        return octets.decode()
    except UnicodeDecodeError:
        return "\N{REPLACEMENT CHARACTER}"
