"""The pages of probes and carts as HTML: the list of probes with its search, and the page of one."""

from dataclasses import replace
from zoneinfo import ZoneInfo

from dashboard.cart_care import cart_of, cart_page_view
from dashboard.live_listings import Params, probe_sieve
from dashboard.pages import EntryPage, Page, Region, head
from dashboard.premises import Premises
from dashboard.probes import (
    ClaimView,
    claim_view,
    due_form,
    places_doubt,
    places_view,
    probe_list_view,
    probe_of,
    probe_view,
    steps_view,
)
from dashboard.visiting import VISITING
from gateway.hub import Feed
from rules.picture import Picture, ProbePicture
from rules.readings import Micros


class ProbesPage(Page):
    """All probes, or those that are asked for."""

    def __init__(self, site_name: str, zone: ZoneInfo, premises: Premises, params: Params = ()) -> None:
        super().__init__("probes", site_name, zone)
        self._premises = premises
        self._sieve = probe_sieve(params)

    def draw(self, feed: Feed, now: Micros) -> tuple[Region, ...]:
        """The page's regions at an instant."""
        view = probe_list_view(feed, self.site_name, now, self.zone, self._premises, self._sieve)
        return head(view.state, self.zone), Region("probes", "_probe_list.html", view)

    def html(self, feed: Feed, now: Micros) -> str:
        """The whole page."""
        return self.render(feed, now, "probes.html", self._sieve.address.removeprefix("/"), sift=self._sieve.sift)


class ProbePage(EntryPage):
    """The page of one probe."""

    def __init__(self, kind: str, thing: str, site_name: str, zone: ZoneInfo, premises: Premises) -> None:
        super().__init__(kind, thing, site_name, zone)
        self._premises = premises
        visitor = VISITING.get()
        self._own_roles = visitor.roles if visitor else ()

    def parts(self, feed: Feed, now: Micros) -> tuple[Region, ...]:
        """How it stands; steps, places and soaks to be claimed are those of now."""
        picture, premises = feed.picture, self._premises
        probe = probe_of(picture, self.thing)
        if probe is None:
            return ()
        return (
            Region("standing", "_probe.html", probe_view(probe, picture, now, self.zone, premises)),
            Region("steps", "_steps.html", (self.thing, steps_view(probe, premises))),
            Region("places", "_places.html", self._places(probe, picture, now)),
            Region("claims", "_claims.html", (self.thing, self._claims(probe, picture, now))),
        )

    def _places(self, probe: ProbePicture, picture: Picture, now: Micros) -> tuple[object, ...]:
        doubt = places_doubt(probe, picture, now, self.zone, self._premises)
        return self.thing, places_view(probe, picture, self._premises), doubt

    def _claims(self, probe: ProbePicture, picture: Picture, now: Micros) -> ClaimView:
        """Soaks that can be claimed, in the roles in which whoever looks may act."""
        view = claim_view(probe, picture, now, self.zone, self._premises)
        return replace(view, roles=tuple(role for role in view.roles if role in self._own_roles))

    def forms(self, feed: Feed) -> dict[str, object]:
        """Which of the forms is open at first: the one that is due."""
        probe = probe_of(feed.picture, self.thing)
        if probe is None:
            raise LookupError(self.thing)
        roles = self._premises.policy.vouch_roles
        return {
            "probe": probe,
            "due": due_form(probe.standing),
            "own_roles": [role for role in roles if role in self._own_roles],
            "allowed": " or ".join(roles),
        }


class CartPage(EntryPage):
    """The page of one cart."""

    def __init__(self, kind: str, thing: str, site_name: str, zone: ZoneInfo, premises: Premises) -> None:
        super().__init__(kind, thing, site_name, zone)
        self._premises = premises

    def parts(self, feed: Feed, now: Micros) -> tuple[Region, ...]:
        """How it is cared for, and how its probes stand."""
        cart = cart_of(feed.picture, self.thing)
        if cart is None:
            return ()
        view = cart_page_view(cart, feed.picture, now, self.zone, self._premises)
        return (Region("care", "_care.html", view),)

    def forms(self, feed: Feed) -> dict[str, object]:
        """The cart, and how long its gel may be used."""
        cart = cart_of(feed.picture, self.thing)
        if cart is None:
            raise LookupError(self.thing)
        days = self._premises.care.gel_days
        return {"cart": cart, "gel_life": "one calendar month" if days == "month" else f"{days} days"}
