"""Cutting the broker's stream; section numbers are those of MQTT 3.1.1 (OASIS, 2014)."""

import contextlib
from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gateway.packets import MOST_KEPT, PacketError, Publish, Splitter, pubacks

PINGRESP = b"\xd0\x00"  # section 3.13
SUBACK = b"\x90\x03\x00\x0a\x01"  # section 3.9, packet id 10, granted QoS 1


def publish(first: int, variable: bytes, payload: bytes) -> bytes:
    rest = variable + payload
    return bytes([first]) + remaining_length(len(rest)) + rest


def remaining_length(value: int) -> bytes:
    """The algorithm that section 2.2.3 gives for encoding."""
    octets = b""
    while True:
        value, octet = value // 128, value % 128
        octets += bytes([octet | 128 if value > 0 else octet])
        if value == 0:
            return octets


def cut(stream: bytes, places: Sequence[int]) -> list[Publish | bytes]:
    """What a splitter finds in a stream that comes in pieces."""
    splitter, found = Splitter(), list[Publish | bytes]()
    for begin, end in zip([0, *places], [*places, len(stream)], strict=True):
        found += splitter.split(stream[begin:end])
    return found


def test_a_message_is_read_as_the_standards_example_is_written() -> None:
    # Section 3.3.2, figure 3.11 (its example of a variable header): topic a/b, packet id 10
    variable = bytes.fromhex("0003612f62000a")
    assert cut(publish(0x32, variable, b"hello"), []) == [Publish("a/b", b"hello", 10, retained=False, again=False)]


@pytest.mark.parametrize(
    ("first", "expected"),
    [  # Section 3.3.1: DUP is bit 3, QoS bits 2 and 1, RETAIN bit 0
        (0x30, Publish("a", b"\0\x07x", 0, retained=False, again=False)),
        (0x31, Publish("a", b"\0\x07x", 0, retained=True, again=False)),
        (0x33, Publish("a", b"x", 7, retained=True, again=False)),
        (0x3A, Publish("a", b"x", 7, retained=False, again=True)),
    ],
)
def test_the_flags_of_a_message_are_told_apart(first: int, expected: Publish) -> None:
    assert cut(publish(first, b"\0\x01a", b"\0\x07x"), []) == [expected]


# Section 2.2.3, table 2.4: the first and last value of each length of the field; the largest would be 256 MB here
@pytest.mark.parametrize(
    ("octets", "length"),
    [("00", 0), ("7f", 127), ("8001", 128), ("ff7f", 16_383), ("808001", 16_384)],
)
def test_a_remaining_length_is_read_as_the_standards_table_says(octets: str, length: int) -> None:
    packet = b"\x90" + bytes.fromhex(octets) + bytes(length)
    assert cut(packet + PINGRESP, []) == [packet, PINGRESP]


topics = st.text(min_size=1, max_size=40)
sent = st.one_of(
    st.sampled_from([PINGRESP, SUBACK]),
    st.builds(
        Publish,
        topics,
        st.binary(max_size=300),
        mid=st.integers(0, 65_535),
        retained=st.booleans(),
        again=st.booleans(),
    ),
)


def encoded(packet: Publish | bytes) -> bytes:
    if isinstance(packet, bytes):
        return packet
    name = packet.topic.encode()
    variable = len(name).to_bytes(2, "big") + name + (packet.mid.to_bytes(2, "big") if packet.mid else b"")
    return publish(0x30 | packet.again << 3 | (packet.mid > 0) << 1 | packet.retained, variable, packet.payload)


@given(st.lists(sent, max_size=12), st.data())
def test_packets_come_out_whole_and_in_order_wherever_the_stream_is_cut(
    packets: list[Publish | bytes], data: st.DataObject
) -> None:
    stream = b"".join(map(encoded, packets))
    places = data.draw(st.lists(st.integers(0, len(stream)), max_size=20).map(sorted))
    assert cut(stream, places) == packets


@given(st.integers(0, 300_000), st.integers(0, 5_000), st.integers(1_000, 100_000))
def test_of_a_payload_no_more_is_kept_than_shows_that_it_is_too_large(over: int, more: int, piece: int) -> None:
    payload = bytes(MOST_KEPT - 1) + b"\1" * (1 + over)
    stream = publish(0x32, b"\0\x01a\0\x01", payload) + publish(0x32, b"\0\x01b\0\x02", bytes(more))
    splitter, found = Splitter(), list[Publish | bytes]()
    for begin in range(0, len(stream), piece):
        found += splitter.split(stream[begin : begin + piece])
        # A topic may have 65535 octets (section 1.5.3), beside lengths and packet id.
        assert len(splitter._rest) <= MOST_KEPT + 65_535 + 16 + piece
    first, second = found
    assert first == Publish("a", payload[:MOST_KEPT], 1, retained=False, again=False)
    assert second == Publish("b", bytes(more), 2, retained=False, again=False)


def test_a_topic_that_is_no_utf_8_becomes_one_that_no_sensor_has() -> None:
    assert cut(publish(0x30, b"\0\x02\xc3\x28", b"x"), [])[0][0] == "\N{REPLACEMENT CHARACTER}"


@pytest.mark.parametrize(
    "stream",
    [
        pytest.param(b"\x30\x80\x80\x80\x80\x01", id="a length of five octets"),
        pytest.param(publish(0x34, b"\0\x01a\0\x01", b""), id="QoS 2, which was not asked for"),
        pytest.param(publish(0x36, b"\0\x01a\0\x01", b""), id="QoS 3, which there is not"),
        pytest.param(publish(0x30, b"\0\x05a", b""), id="a topic longer than its packet"),
        pytest.param(publish(0x32, b"\0\x01a\0", b""), id="half a packet id"),
        pytest.param(publish(0x30, b"", b""), id="nothing in it"),
        pytest.param(publish(0x90, b"", bytes(300_000)), id="300 kB of SUBACK"),
    ],
)
def test_what_no_broker_may_send_ends_the_connection(stream: bytes) -> None:
    with pytest.raises(PacketError, match="the broker sent a"):
        Splitter().split(stream[:200_000])


@given(st.binary(max_size=200), st.binary(max_size=200))
def test_no_octets_whatever_end_it_otherwise(first: bytes, second: bytes) -> None:
    splitter = Splitter()
    with contextlib.suppress(PacketError):
        splitter.split(first)
        splitter.split(second)


def test_acknowledgements_are_written_as_the_standard_says() -> None:
    # Section 3.4: fixed header 40 02, then the packet id, most significant octet first
    assert pubacks([10, 0x1234, 65_535]) == bytes.fromhex("4002000a 40021234 4002ffff")
