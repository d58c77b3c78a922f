"""The ways out of the house that a site file names, ready to send."""

from gateway.channel import Channel
from gateway.channel_settings import AppriseChannel, ChannelSettings, SmtpChannel, SnppChannel, WebhookChannel
from gateway.push import Push
from gateway.sitefile import SiteFile
from gateway.smtp import Smtp
from gateway.snpp import Snpp
from gateway.webhook import Webhook


def channels_of(file: SiteFile) -> dict[str, Channel]:
    """By the ids of [[channel]]; nobody is called and no secret is read before the first page."""
    return {settings.id: channel_of(settings, file.site.id) for settings in file.channel}


def channel_of(settings: ChannelSettings, site: str) -> Channel:
    """One of them; ``site``: the site's id."""
    match settings:
        case SmtpChannel():
            return Smtp(settings, site)
        case SnppChannel():
            return Snpp(settings)
        case WebhookChannel():
            return Webhook(settings, site)
        case AppriseChannel():
            return Push(settings)
