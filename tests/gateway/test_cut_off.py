"""gateway/cut_off.py: a conversation ends when its time is over, whenever it began."""

import socket

from gateway.cut_off import cut_off

PATIENCE_SECONDS = 10.0


def test_a_connection_that_comes_about_after_the_time_is_over_is_shut_as_well() -> None:
    ours, theirs = socket.socketpair()
    held: list[socket.socket] = []
    with ours, theirs, cut_off(0.01, lambda: held[0] if held else None) as is_over:
        assert is_over.wait(PATIENCE_SECONDS)
        ours.settimeout(PATIENCE_SECONDS)
        held.append(ours)
        assert ours.recv(1) == b""


def test_a_connection_that_is_done_in_time_is_left_alone() -> None:
    ours, theirs = socket.socketpair()
    with ours, theirs:
        with cut_off(PATIENCE_SECONDS, lambda: ours) as is_over:
            pass
        theirs.sendall(b"x")
        assert (ours.recv(1), is_over.is_set()) == (b"x", False)
