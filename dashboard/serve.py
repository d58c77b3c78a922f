"""Serves the dashboard: a listening socket first, so that a busy port is told in one sentence before anything starts."""

import socket

import uvicorn
from fastapi import FastAPI

STREAMS_END_SECONDS = 3
"""How long open streams may take to end after a stop; ours."""


class PortError(RuntimeError):
    """The address cannot be listened on; the message is one sentence that says how to mend it."""


def listen(host: str, port: int) -> socket.socket:
    """A socket that listens on the address; port 0 takes any free one.

    Raises:
        PortError: the port is taken, or the address is not of this machine.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    try:
        return socket.create_server((host, port), family=family, backlog=256)
    except OSError as error:
        why = error.strerror or str(error)
        raise PortError(
            f"The dashboard cannot listen on {host}, port {port} ({why}): stop what uses it, or choose another with --port."
        ) from error


def server(app: FastAPI) -> uvicorn.Server:
    """A server for one process; ``server(app).run(sockets=[listen(...)])`` blocks until SIGINT or SIGTERM."""
    config = uvicorn.Config(
        app, log_level="warning", access_log=False, timeout_graceful_shutdown=STREAMS_END_SECONDS, server_header=False
    )
    return uvicorn.Server(config)
