"""One test page over one channel, outside the engine and its record: what an engineer tries a channel with."""

from gateway.channel import Message, NeverError, NotNowError
from gateway.channels import channel_of
from gateway.sitefile import Setup
from rules.alert_words import PageWhy, Priority
from rules.part import meant
from rules.readings import SECOND, Micros

EXPIRES_SECONDS = 600
"""After so long nobody needs the page any more; ours."""


class TryError(ValueError):
    """The channel is not there, or has not taken the page; one clear sentence."""


def try_channel(setup: Setup, name: str, address: str, now: Micros) -> str:
    """Send it, and tell what the other side said.

    Raises:
        TryError: as it says.
    """
    file = setup.file
    settings = next((channel for channel in file.channel if channel.id == name), None)
    if settings is None:
        known = [channel.id for channel in file.channel]
        raise TryError(f"There is no [[channel]] '{name}'; {meant(name, known) if known else 'add one'}.")
    channel = channel_of(settings, file.site.id)
    try:
        receipt = channel.send(_message(file.site.name, address, now))
    except NotNowError as error:
        raise TryError(f"Channel '{name}' has not taken it this time: {error}.") from error
    except NeverError as error:
        raise TryError(f"Channel '{name}' will not take it: {error}.") from error
    more = "More can be asked of it, as 'serve' does." if receipt.handle is not None else f"{settings.can_tell}."
    return f"{receipt.confirmation.capitalize()}: {receipt.detail}. {more[0].upper()}{more[1:]}"


def _message(site: str, address: str, now: Micros) -> Message:
    return Message(
        page=f"try-{now // SECOND}",
        address=address,
        brief=f"Test from Sinkside, {site}",
        text=f"Test from Sinkside, {site}: nothing has happened, and nobody has to answer.",
        link=None,
        priority=Priority.MEDIUM,
        why=PageWhy.TEST,
        alerts=(),
        asked=now,
        expires=Micros(now + EXPIRES_SECONDS * SECOND),
    )
