"""What ``sinkside check`` says of the ways out of the house: where each goes, and what it can tell of a page."""

import os
from collections.abc import Iterator

from gateway.channel_settings import (
    LOOPBACK,
    AppriseChannel,
    ChannelSettings,
    SmtpChannel,
    SnppChannel,
    WebhookChannel,
)
from gateway.secret import Secret
from rules.alert_words import Confirmation


def channel_lines(channels: tuple[ChannelSettings, ...]) -> Iterator[str]:
    """What was understood; nothing where there is no channel."""
    if channels:
        yield "\nChannels: how pages leave, and what each can tell of them"
    for channel in channels:
        yield f"  {channel.id}: {_goes_to(channel)}; {channel.can_tell}"
        letters = "" if channel.most_letters is None else f", at most {channel.most_letters} letters"
        yield f"      told = '{channel.asks}' within {channel.deadline_seconds:g} s{letters}"


def channel_warnings(channels: tuple[ChannelSettings, ...]) -> Iterator[str]:
    """A sentence for each thing that is named and not there, or can be meant and most likely is not."""
    for channel in channels:
        yield from (f"channel '{channel.id}', {said}" for secret in channel.needs() for said in _missing(secret))
        if channel.ca_file is not None and not channel.ca_file.is_file():
            yield f"channel '{channel.id}', ca_file: there is no file '{channel.ca_file}' here; put it there."
        if isinstance(channel, SmtpChannel) and channel.tls == "none" and channel.host not in LOOPBACK:
            yield (
                f"channel '{channel.id}': tls = 'none' shows every page to the network between here and"
                f" '{channel.host}'; write tls = 'starttls' if the server offers it."
            )
        if isinstance(channel, SnppChannel) and channel.two_way and channel.asks is Confirmation.ACCEPTED:
            yield (
                f"channel '{channel.id}': asks = 'accepted' takes a page for told that waits for a pager out of reach;"
                " write asks = 'delivered'."
            )
        if channel.attempt_seconds > channel.deadline_seconds:
            yield (
                f"channel '{channel.id}': one attempt may take {channel.attempt_seconds:g} s, longer than the"
                f" {channel.deadline_seconds:g} s within which a page counts as told; lower timeout_seconds."
            )


def _missing(secret: Secret) -> Iterator[str]:
    """On another machine it may be there."""
    if secret.env is not None and not os.environ.get(secret.env):
        yield f"{secret.name}_env: the environment variable '{secret.env}' is not set; without it no page goes out."
    if secret.file is not None and not secret.file.is_file():
        yield f"{secret.name}_file: there is no file '{secret.file}' on this machine; no page goes out without it."


def _goes_to(channel: ChannelSettings) -> str:
    match channel:
        case SmtpChannel():
            return f"mail from {channel.sender} by {channel.host} port {channel.target_port}, {_encrypted(channel.tls)}"
        case SnppChannel():
            way = "two-way" if channel.two_way else "one way"
            return f"pagers by {channel.host} port {channel.port}, {way}, {_encrypted(channel.tls or 'none')}"
        case WebhookChannel():
            return f"signed POST to {channel.url}"
        case AppriseChannel():
            return "push, SMS or chat by the apprise library"


def _encrypted(tls: str) -> str:
    return {"none": "not encrypted", "tls": "TLS", "starttls": "STARTTLS"}[tls]
