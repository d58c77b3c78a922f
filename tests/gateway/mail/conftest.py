"""A mail server on a free port, and what it took."""

import contextlib
from collections.abc import Iterator

import pytest
from aiosmtpd.smtp import SMTP

from tests.gateway.mail.mail_server import Ours, Post, Serve


@pytest.fixture
def post() -> Post:
    return Post()


@pytest.fixture
def serve(post: Post) -> Iterator[Serve]:
    """Start a mail server with the library's options, and give its port."""
    with contextlib.ExitStack() as stack:

        def started(server_class: type[SMTP] = SMTP, **options: object) -> int:
            server = Ours(post, hostname="127.0.0.1", port=0, **options)  # type: ignore[arg-type]  # the library's
            server.server_class = server_class
            with contextlib.suppress(ConnectionError):  # it tries its own port, which is 0
                server.start()
            stack.callback(server.stop)
            return int(server.server.sockets[0].getsockname()[1])  # type: ignore[union-attr]  # it listens

        yield started
