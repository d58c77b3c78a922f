"""Hands in a running ward: what a bench page or a command line asks for is done at once, and told in a sentence."""

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime

from gateway.hands import HandsError, Offer
from rules.readings import SECOND, Micros
from rules.site import Site
from sim_devices.running.offers import offers_of
from sim_devices.running.spoken_deeds import deed_of
from sim_devices.ward.deeds import Deed
from sim_devices.ward.refusal import DeedError

HAND_SECONDS = 10.0
"""How long hands wait for a deed to be done (ours)."""

Act = Callable[[Deed], Micros]
"""Does a deed in the ward now, from any thread, and gives its time; raises DeedError or HandsError."""


class WardHands:
    """Hands in a ward of this process; answers to ``gateway.hands.Hands``."""

    def __init__(self, site: Site, act: Act) -> None:
        self._offers = offers_of(site)
        self._by_do = {offer.do: offer for offer in self._offers}
        self._zone = site.site.zone
        self._act = act

    def offers(self) -> Sequence[Offer]:
        """What can be done."""
        return self._offers

    def do(self, values: Mapping[str, str]) -> str:
        """Do a deed now, and tell in a sentence what happened; raises HandsError."""
        deed = deed_of(values)
        try:
            at = self._act(deed)
        except DeedError as error:
            raise HandsError(str(error)) from error
        time = datetime.fromtimestamp(at // SECOND, self._zone)
        return f"{time:%H:%M:%S}: {_said(self._by_do[deed.do], values)}."


def _said(offer: Offer, values: Mapping[str, str]) -> str:
    """``Lift a lid - Basin 1``; of other keys the name, too."""
    said = []
    for key in offer.keys:
        if text := values.get(key.name, ""):
            called = {choice.value: choice.words for choice in key.choices}.get(text, text)
            said.append(called if key.is_thing else f"{key.words}: {called}")
    return f"{offer.words} - {', '.join(said)}" if said else offer.words
