"""The socket of the screens."""

import socket

from dashboard.serve import listen


def test_no_part_of_an_answer_waits_until_the_one_before_is_acknowledged() -> None:
    with (
        listen("127.0.0.1", 0, "nothing") as listening,
        socket.create_connection(listening.getsockname()),
        listening.accept()[0] as accepted,
    ):
        assert accepted.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY)  # RFC 9293, 3.7.4; Linux: tcp(7)
