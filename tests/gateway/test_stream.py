import socket
from collections.abc import Iterator

import pytest
from paho.mqtt.enums import CallbackAPIVersion

from gateway.stream import Stream, StreamClient


@pytest.fixture
def pair() -> Iterator[tuple[Stream, socket.socket]]:
    """A stream and its other end."""
    ours, theirs = socket.socketpair()
    stream = Stream(ours)
    stream.setblocking(flag=False)
    theirs.settimeout(5)
    yield stream, theirs
    stream.close()
    theirs.close()


def test_what_was_sent_goes_out_together_and_in_order(pair: tuple[Stream, socket.socket]) -> None:
    stream, theirs = pair
    assert [stream.send(octets) for octets in (b"one", bytearray(b"two"))] == [3, 3]
    assert stream.wants_write
    stream.flush()
    assert not stream.wants_write
    assert theirs.recv(100) == b"onetwo"


def test_what_the_socket_has_no_room_for_waits_and_nothing_of_it_is_lost(pair: tuple[Stream, socket.socket]) -> None:
    stream, theirs = pair
    sent = b"".join(number.to_bytes(4, "big") for number in range(1_000_000))
    stream.send(sent)
    stream.flush()
    assert stream.wants_write, "the socket took 4 MB at once: send more here"
    heard = b""
    while len(heard) < len(sent):
        heard += theirs.recv(1 << 20)
        stream.flush()
    assert heard == sent
    assert not stream.wants_write


def test_closing_sends_what_waits(pair: tuple[Stream, socket.socket]) -> None:
    stream, theirs = pair
    stream.send(b"goodbye")
    stream.close()
    assert theirs.recv(100) == b"goodbye"
    assert theirs.recv(100) == b""


def test_closing_a_broken_stream_is_no_error(pair: tuple[Stream, socket.socket]) -> None:
    stream, theirs = pair
    theirs.close()
    stream.send(b"goodbye")
    stream.close()
    assert stream.fileno() == -1


def test_it_tells_nothing_yet_from_the_end(pair: tuple[Stream, socket.socket]) -> None:
    stream, theirs = pair
    assert stream.receive() is None
    theirs.send(b"x" * 10)
    assert stream.receive() == b"x" * 10
    theirs.close()
    assert stream.receive() == b""


def test_one_reading_brings_what_many_writings_sent(pair: tuple[Stream, socket.socket]) -> None:
    stream, theirs = pair
    for _ in range(10):
        theirs.send(b"packet")
    assert stream.receive() == b"packet" * 10


def test_paho_reads_only_what_it_is_handed(pair: tuple[Stream, socket.socket]) -> None:
    stream, theirs = pair
    theirs.send(b"a message")
    stream.hand(b"\xd0\x00")
    assert [stream.recv(1), stream.recv(1)] == [b"\xd0", b"\x00"]
    with pytest.raises(BlockingIOError):
        stream.recv(1)


def test_shutting_ends_it_for_both(pair: tuple[Stream, socket.socket]) -> None:
    stream, theirs = pair
    stream.shut()
    assert stream.receive() == b""
    assert theirs.recv(1) == b""


def test_the_paho_that_is_installed_takes_the_stream_that_we_make() -> None:
    client = StreamClient(CallbackAPIVersion.VERSION2)
    assert client.stream is None
    with socket.create_server(("127.0.0.1", 0)) as door:
        client.connect("127.0.0.1", door.getsockname()[1])
        broker, _ = door.accept()
        with broker:
            assert isinstance(client.stream, Stream)
            client.loop_write()
            client.stream.flush()
            assert broker.recv(100)[0] == 0x10  # CONNECT (section 3.1 of MQTT 3.1.1)
            client.stream.close()
