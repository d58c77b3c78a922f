"""A real gateway with its own broker whose alerts are told to people, and its screens."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from dashboard.premises import Premises
from gateway.delivery import SendPace
from gateway.hub import Feed
from gateway.journal import JournalView
from gateway.schema import DATABASE
from gateway.service import Service
from gateway.sitefile import parse
from rules.alert_events import PageAsked
from rules.alert_words import State
from rules.call_picture import ToldPicture
from rules.commands import Command
from rules.picture import AlertPicture
from rules.readings import Reading
from tests.dashboard.serving import Served, serve

PATIENCE_SECONDS = 20.0

SITE = """
[site]
id = "ward"
name = "Ward"
[broker]
port = 0
sync_interval = "1s"
[thresholds]
rolling_after_seconds = 0
[paging]
link_base = "https://ward.example.org"
[[cart]]
id = "cart-1"
name = "Cart 1"
cords = ["linear"]
[[role]]
id = "tech"
name = "Tech"
[[role]]
id = "charge"
name = "Charge nurse"
[[channel]]
id = "mail"
kind = "smtp"
host = "127.0.0.1"
port = 1
tls = "none"
sender = "sinkside@example.org"
[[contact]]
id = "phone-1"
name = "Phone 1"
ways = [{ channel = "mail", address = "one@example.org" }]
[[contact]]
id = "phone-2"
name = "Phone 2"
ways = [{ channel = "mail", address = "two@example.org" }]
[[duty]]
role = "tech"
contacts = ["phone-1"]
start = 00:00:00
end = 00:00:00
[[duty]]
role = "charge"
contacts = ["phone-2"]
start = 00:00:00
end = 00:00:00
[[route]]
name = "All"
tiers = [{ roles = ["tech"] }, { roles = ["charge"], after_seconds = 3600 }]
"""
"""Nobody takes its mail: what this tells of is what the engine asked for."""


def with_pagers(port: int) -> str:
    """The same site, but that its people carry two-way pagers, whose terminal has this port."""
    pagers = f'kind = "snpp"\nhost = "127.0.0.1"\nport = {port}\ntwo_way = true\nasks = "delivered"'
    mail = SITE.partition('kind = "smtp"')[2].partition("[[contact]]")[0]
    paged = SITE.replace(f'kind = "smtp"{mail}', f"{pagers}\n")
    return paged.replace("one@example.org", "5550001").replace("two@example.org", "5550002")


@dataclass(frozen=True)
class PagedWard:
    """The gateway, its screens, and where it keeps its journal."""

    service: Service
    served: Served
    folder: Path

    def await_feed(self, wanted: Callable[[Feed], bool]) -> Feed:
        feed: Feed | None = self.service.hub.latest
        while feed is not None and not wanted(feed):
            feed = self.service.hub.wait_newer(feed.version, PATIENCE_SECONDS)
        assert feed is not None, "not in time"
        return feed

    def roll_with_a_cord_down(self, site: str = "ward", cord: str = "linear") -> AlertPicture:
        """Raise an alert of high priority about Cart 1."""
        self.await_feed(lambda feed: feed.picture.hearing)
        client = Client(CallbackAPIVersion.VERSION2, client_id="cart")
        client.connect("127.0.0.1", self.service.broker_port)
        client.loop_start()
        at = self.service.clock.now() / 1e6
        for sensor, value in ((f"hook-{cord}", "false"), ("motion", "true")):
            payload = f'[{{"n":"x","vb":{value},"t":{at}}}]'
            client.publish(f"sinkside/{site}/cart-1/{sensor}", payload, 1).wait_for_publish(PATIENCE_SECONDS)
        client.disconnect()
        client.loop_stop()
        feed = self.await_feed(lambda feed: any(a.rule == RULE for a in feed.picture.alerts))
        return next(alert for alert in feed.picture.alerts if alert.rule == RULE)

    def await_state(self, alert: str, state: State) -> Feed:
        return self.await_feed(
            lambda feed: any(
                one.id == alert and one.state is state for one in (*feed.picture.alerts, *feed.picture.hidden)
            )
        )

    def first_page(self, alert: str) -> ToldPicture:
        """The page by which people were told first."""
        feed = self.await_feed(lambda feed: any(alert in call.alerts and call.told for call in feed.picture.calls))
        return next(call.told[0] for call in feed.picture.calls if alert in call.alerts)

    def link_of(self, page: ToldPicture) -> str:
        """Where its link leads, without the host."""
        assert self.service.answering is not None
        links = self.service.answering.links
        return links.link_for(page.page, page.at).removeprefix(links.base)

    def commands(self) -> list[Command]:
        """What people did, as it is on disk."""
        view = JournalView.open(self.folder / DATABASE)
        inputs = [item for chunk in view.inputs(0, view.extent().last_input) for item in chunk]
        view.close()
        return [item for item in inputs if not isinstance(item, Reading)]

    def pages_asked(self) -> list[PageAsked]:
        """What the engine asked for, as it is on disk."""
        view = JournalView.open(self.folder / DATABASE)
        bodies = [said.body for said in view.events(0, view.extent().last_event)]
        view.close()
        return [PageAsked.model_validate_json(body) for body in bodies if '"kind":"page asked"' in body]


RULE = "cord-down-rolling"


@contextmanager
def paged_ward(folder: Path, site: str = SITE, send_pace: SendPace | None = None) -> Iterator[PagedWard]:
    """Until the block ends."""
    setup = parse(site, Path("ward.toml"))
    premises = Premises.of(setup.file, setup.book)
    with Service(setup, folder, send_pace=send_pace) as service:
        zone, journal = ZoneInfo("Europe/Lisbon"), folder / DATABASE
        with serve(service.hub, zone, premises=premises, journal=journal, answering=service.answering) as served:
            yield PagedWard(service, served, folder)
