"""Which ways out of the house cannot work for want of a secret, said before the first page needs one."""

import logging
from collections.abc import Callable
from dataclasses import dataclass, field

from gateway.channel_settings import ChannelSettings
from gateway.secret import SecretError

log = logging.getLogger(__name__)

Warn = Callable[[str, str | None], None]
"""What screens say of something from now on: of what, and a plain sentence or nothing."""


@dataclass(slots=True)
class ChannelWatch:
    """Reads the secrets of all channels now and then; what it finds it says on screens, and in the log when it changes.

    A missing secret ends nothing: the wall matters more than one way of paging.
    """

    channels: tuple[ChannelSettings, ...]
    warn: Warn
    _told: dict[str, str | None] = field(default_factory=dict, init=False)

    def look(self) -> None:
        """One look at each channel."""
        for channel in self.channels:
            trouble = _trouble(channel)
            before = self._told.get(channel.id)
            if trouble is not None and trouble != before:
                log.warning("%s", trouble)
            elif trouble is None and before is not None:
                log.warning("Channel '%s' has its secret again.", channel.id)
            self._told[channel.id] = trouble
            self.warn(f"channel {channel.id}", trouble)


def _trouble(channel: ChannelSettings) -> str | None:
    """One sentence, without the secret; None where nothing is missing."""
    for secret in channel.needs():
        try:
            secret.read()
        except SecretError as error:
            again = ", and start Sinkside anew" if error.final else ""
            return f"No page can go by channel '{channel.id}': {error}{again}."
    return None
