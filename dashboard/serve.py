"""Serves the dashboard: the socket first, so that a busy port is told before anything else starts."""

import socket
from collections.abc import Callable
from types import FrameType

import uvicorn
from fastapi import FastAPI

STREAMS_END_SECONDS = 3
"""How long open streams may take to end after a stop; ours."""


class PortError(RuntimeError):
    """The address cannot be listened on; the message is one sentence that says how to mend it."""


def listen(host: str, port: int, chosen_with: str) -> socket.socket:
    """A socket that listens on the address; port 0 takes any free one.

    chosen_with: how whoever reads the error can choose another.

    Raises:
        PortError: the port is taken, or the address is not of this machine.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    try:
        return socket.create_server((host, port), family=family, backlog=256)
    except OSError as error:
        why = (error.strerror or str(error)).partition(" (while")[0]  # Python adds the address, which we name ourselves
        raise PortError(
            f"The dashboard cannot listen on {host}, port {port} ({why}): stop what uses it, or choose another with "
            f"{chosen_with}."
        ) from error


class Server(uvicorn.Server):
    """Serves until SIGINT or SIGTERM; ``on_exit`` is called at once then, so that open streams end by themselves."""

    def __init__(self, config: uvicorn.Config, on_exit: Callable[[], None]) -> None:
        super().__init__(config)
        self._on_exit = on_exit

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """A signal came."""
        self._on_exit()
        super().handle_exit(sig, frame)


def server(app: FastAPI, on_exit: Callable[[], None]) -> Server:
    """A server for one process; ``server(app, close).run(sockets=[listen(...)])`` blocks until a signal ends it."""
    config = uvicorn.Config(
        app,
        log_level="warning",
        access_log=False,
        log_config=None,
        timeout_graceful_shutdown=STREAMS_END_SECONDS,
        server_header=False,
    )
    return Server(config, on_exit)
