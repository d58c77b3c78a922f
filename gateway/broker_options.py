"""How the embedded broker behaves, and the configuration file that tells it so."""

import json
import secrets
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from gateway.senml import MOST_OCTETS

SESSION_WINDOW = 65_535
"""Most unacknowledged messages of one session, all its subscriptions together: MQTT packet ids are 16 bits wide."""

MOST_PAYLOAD_OCTETS = MOST_OCTETS + 1024
"""Largest message that it takes: a little more than the gateway reads, so that what is too large is told by it."""


def window_for(subscriptions: int) -> int:
    """The largest ``max_ack_pending`` with which one session may hold this many QoS 1 subscriptions, at most 16384."""
    return max(1, min(16_384, SESSION_WINDOW // max(1, subscriptions)))


@dataclass(frozen=True, slots=True)
class BrokerOptions:
    """How the embedded broker behaves.

    sync_interval: how often it writes to disk for good: 'always' (before it acknowledges) or a duration such as '2s'.
    ack_wait: after how long it sends an unacknowledged message again; longer than the slowest commit.
    max_ack_pending: unacknowledged messages a subscription may have; see ``window_for``.
    max_store: most bytes on disk, with a unit, such as '4GB'.
    users: MQTT user names and passwords; empty = anybody who can reach the port.
    """

    sync_interval: str = "always"
    ack_wait: str = "2s"
    max_ack_pending: int = 16_384
    max_store: str = "4GB"
    users: Mapping[str, str] = field(default_factory=dict)


def configuration(folder: Path, host: str, port: int, options: BrokerOptions) -> str:
    """The server's configuration file: MQTT on host:port, everything on disk under ``folder``.

    The server's own client port cannot be left out; it is on a random loopback port, and since every user may speak
    MQTT only, nobody can log in there.
    """
    users = dict(options.users) or {"anybody": secrets.token_urlsafe(24)}
    return "\n".join(
        (
            'server_name: "sinkside"',
            'host: "127.0.0.1"',
            "port: -1",
            f"max_payload: {MOST_PAYLOAD_OCTETS}",
            f"log_file: {_quoted(folder / 'broker.log')}",
            "logfile_size_limit: 1MB",
            "logfile_max_num: 3",
            f"pid_file: {_quoted(folder / 'broker.pid')}",
            "jetstream {",
            f"  store_dir: {_quoted(folder / 'store')}",
            f"  sync_interval: {_quoted(options.sync_interval)}",
            f"  max_file_store: {options.max_store}",
            "  max_memory_store: 256MB",
            "}",
            "authorization { users: [",
            *(
                f'  {{user: {_quoted(name)}, password: {_quoted(password)}, allowed_connection_types: ["MQTT"]}}'
                for name, password in users.items()
            ),
            "] }",
            "mqtt {",
            f"  host: {_quoted(host)}",
            f"  port: {port}",
            f"  ack_wait: {_quoted(options.ack_wait)}",
            f"  max_ack_pending: {options.max_ack_pending}",
            *(() if options.users else ('  no_auth_user: "anybody"',)),
            "}",
            "",
        )
    )


def _quoted(value: str | Path) -> str:
    return json.dumps(str(value), ensure_ascii=False)
