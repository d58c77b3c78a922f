"""What the tests of the broker link say about what was heard."""

from typing import TYPE_CHECKING

from gateway.inbox import Delivery
from gateway.link import End

if TYPE_CHECKING:
    from tests.gateway.conftest import Ear

LID = "sinkside/testing/basin-1/lid"
MOTION = "sinkside/testing/cart-1/motion"


def payloads(deliveries: list[Delivery]) -> list[bytes]:
    return [d.payload for d in deliveries]


def drop(ear: "Ear") -> None:
    """Ends the connection without a word, as a broken network would."""
    connection = ear.subscriber._connection
    assert connection is not None
    connection.abandon(End.LOST)
