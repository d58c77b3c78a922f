"""The pages of alerts as HTML: all of them, and one with what can be done about it."""

from collections.abc import Mapping
from zoneinfo import ZoneInfo

from dashboard import alert_deeds, service_deeds
from dashboard.alert_list import alert_list_view, out_rows
from dashboard.entries import Sheet
from dashboard.held import natural
from dashboard.live_listings import Params, alert_sieve
from dashboard.one_alert import Entrance, alert_of, deeds_view, one_alert_view, role_rows, shelf_minutes
from dashboard.pages import EntryPage, Region
from dashboard.premises import Named, Premises
from dashboard.visiting import VISITING
from dashboard.words import for_minutes
from gateway.hub import Feed
from rules.alert_words import Priority
from rules.picture import AlertPicture, Picture
from rules.readings import Micros


class AlertPage(EntryPage):
    """The page of one alert, which stays open when the alert is over.

    names: of things and contacts, by their ids. entrance: by which way it was opened, by default its own address.
    """

    def __init__(
        self, alert: str, site_name: str, zone: ZoneInfo, names: Mapping[str, str], entrance: Entrance | None = None
    ) -> None:
        super().__init__("alert", alert, site_name, zone)
        self._names = names
        self._entrance = entrance or Entrance(f"/alert/{alert}")

    @property
    def stream(self) -> str:
        """By the same way."""
        return f"{self._entrance.href(self.thing).removeprefix('/')}"

    def parts(self, feed: Feed, now: Micros) -> tuple[Region, ...]:
        """How it stands, and what can be done about it now."""
        picture, way = feed.picture, self._entrance
        here = {"here": way.here}
        alert = alert_of(picture, self.thing)
        view = None if alert is None else one_alert_view(alert, picture, now, self.zone, self._names, way)
        deeds = None if alert is None else deeds_view(alert, picture, self.zone, way)
        return (
            Region("alert", "_alert.html", view, {"end": way.end(self.thing), "thing": self.thing}),
            Region("go", "_go.html", deeds, here),
            Region("more-deeds", "_more.html", deeds, here),
            Region("take-over-deeds", "_take_over.html", deeds, here),
            Region("roles", "_roles.html", role_rows(picture), here),
        )

    def forms(self, feed: Feed) -> dict[str, object]:
        """What can be chosen from."""
        alert = alert_of(feed.picture, self.thing)
        priority = Priority.HIGH if alert is None else alert.priority
        most = feed.picture.shelve_most_minutes[priority]
        return {
            "here": self._entrance.here,
            "answers_as": self._entrance.answers_as,
            "reasons": alert_deeds.SHELF_REASONS,
            "done": alert_deeds.DONE,
            "times": [(minutes, for_minutes(minutes)) for minutes in shelf_minutes(most)],
            "most": for_minutes(most),
            "is_urgent": priority is Priority.HIGH,
            "until_it_ends": alert_deeds.UNTIL_IT_ENDS,
        }


class AlertsPage(EntryPage):
    """All alerts, and what maintenance took out of service."""

    def __init__(self, site_name: str, zone: ZoneInfo, premises: Premises, params: Params = ()) -> None:
        super().__init__("alerts", "", site_name, zone)
        self._premises = premises
        self._sieve = alert_sieve(params)
        visitor = VISITING.get()
        self._own_roles = [role for role in premises.maintenance_roles if visitor and role in visitor.roles]

    @property
    def stream(self) -> str:
        """As the list is asked for."""
        return self._sieve.address.removeprefix("/")

    def parts(self, feed: Feed, now: Micros) -> tuple[Region, ...]:
        """What stands, what is hidden, and what is out of service."""
        picture = feed.picture
        view = alert_list_view(picture, now, self.zone, self._premises.names, self._sieve)
        return (
            Region("standing-alerts", "_alert_list.html", view),
            Region("out", "_out.html", out_rows(picture.out, self._premises, now, self.zone), {"own": self._own_roles}),
        )

    def forms(self, _: Feed) -> dict[str, object]:
        """What can be chosen from."""
        premises = self._premises
        watched = sorted(
            (Named(thing, name) for thing, name in premises.watched.items()), key=lambda named: natural(named.name)
        )
        return {
            "own_roles": self._own_roles,
            "watched": watched,
            "rules": [Named(rule, premises.rule_names.get(rule, rule)) for rule in premises.rules],
            "sift": self._sieve.sift,
        }


def service_sheet(site_name: str, zone: ZoneInfo, premises: Premises) -> Sheet[Picture, service_deeds.ServiceCommand]:
    """What maintenance does about alerts."""
    return Sheet(
        kind="alerts",
        deeds=tuple(service_deeds.Deed),
        acts_as=("role",),
        nowhere="",
        find=lambda picture, _: picture,
        page=lambda _: AlertsPage(site_name, zone, premises),
        sifted=lambda params: AlertsPage(site_name, zone, premises, params),
        entry=lambda deed, fields, _, __, now: (
            service_deeds.entry_of(service_deeds.Deed(deed), fields, premises, now),
        ),
        told=lambda _, events, __, ___, ____: service_deeds.told(events, premises),
        is_one=True,
    )


def alert_sheet(
    site_name: str, zone: ZoneInfo, names: Mapping[str, str]
) -> Sheet[AlertPicture, alert_deeds.AlertCommand]:
    """What is done about an alert."""
    return Sheet(
        kind="alert",
        deeds=tuple(alert_deeds.Deed),
        nowhere="Nothing was written down: no alert of this number stands now. /alerts lists those that do.",
        find=alert_of,
        page=lambda name: AlertPage(name, site_name, zone, names),
        entry=lambda deed, fields, alert, picture, now: (
            alert_deeds.entry_of(alert_deeds.Deed(deed), fields, alert, picture, now),
        ),
        told=lambda commands, events, alert, picture, now: alert_deeds.told(
            commands, events, alert, picture, now, zone
        ),
        stays=True,
    )
