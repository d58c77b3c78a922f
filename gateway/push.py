"""Pages as phone push, SMS or chat, by the apprise library.

It is imported when the first page goes out: with its plugins that takes a third of a second, and nothing else needs it.
"""

import logging
from dataclasses import dataclass
from typing import TYPE_CHECKING
from urllib.parse import quote

from gateway.channel import Message, NotNowError, Receipt, without_secret
from gateway.channel_settings import AppriseChannel
from gateway.secret import SecretError
from gateway.wording import one_line, worded
from rules.alert_words import Confirmation, Priority

if TYPE_CHECKING:
    from apprise import Apprise

ADDRESS = "{address}"
"""Stands in the service's address for a contact's own."""

_LOGS = ("apprise", "urllib3")
"""What writes addresses of services, secrets included, to the log."""

_KINDS = {Priority.HIGH: "failure", Priority.MEDIUM: "warning", Priority.LOW: "info"}
"""What the library calls a message's kind; many services show it by sign or colour."""


@dataclass(frozen=True, slots=True)
class Push:
    """A service that the library knows; its yes says that the service has taken the page, and no more.

    How long it may take is the library's: 4 s to connect and 4 s for an answer, unless ``cto`` and ``rto`` in the
    service's address say otherwise.
    """

    settings: AppriseChannel

    def send(self, message: Message) -> Receipt:
        """Hand the page to the service.

        Raises:
            NeverError: the environment variable that the address is to stand in is not set.
            NotNowError: no usable address of a service, or the service has not taken it; the library does not say why
                without telling secrets, so that it is tried again whatever it was.
        """
        try:
            url = self.settings.url.read() or ""
        except SecretError as error:
            raise without_secret(error) from error
        most = self.settings.most_letters
        title = one_line(message.brief) if most is None else ""
        try:
            service = _service(url.replace(ADDRESS, quote(message.address, safe="")))
            is_taken = bool(service.notify(worded(message, most), title, _KINDS[message.priority]))
        except NotNowError:
            raise
        except Exception as error:  # noqa: BLE001 - whatever a plugin raises, which may hold the address
            raise NotNowError(f"the push service failed ({type(error).__name__})") from None
        if not is_taken:
            raise NotNowError("the push service has not taken it; try its address with the library's own command line")
        return Receipt(Confirmation.ACCEPTED, "taken by the push service")


def _service(url: str) -> "Apprise":
    for name in _LOGS:
        logging.getLogger(name).setLevel(logging.CRITICAL + 1)
    from apprise import Apprise, AppriseAsset  # noqa: PLC0415 - see above

    service = Apprise(asset=AppriseAsset(async_mode=False, app_id="Sinkside", app_desc="Sinkside"))
    if not service.add(url):
        raise NotNowError("the address of the push service is not one that the apprise library knows; correct it")
    if len(service) != 1:
        # What one takes and another does not would be sent again to both.
        raise NotNowError(f"the address of the push service is that of {len(service)}; give each a channel of its own")
    return service
