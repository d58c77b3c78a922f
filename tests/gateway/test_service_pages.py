"""The whole gateway pages: from the site file's channels to a real server, and its answer into the record."""

import email
import re
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from email.policy import default
from pathlib import Path

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session

from gateway.channel_watch import ChannelWatch
from gateway.channels import channels_of
from gateway.delivery import SendPace
from gateway.journal import JournalView
from gateway.logbook import Logbook
from gateway.schema import DATABASE
from gateway.service import Service
from gateway.sitefile import Setup, parse
from rules.alert_commands import TryPages
from rules.alert_events import PageAsked, PageReported
from rules.alert_words import Confirmation, PageEnd
from rules.events import EVENT, Event
from rules.readings import Micros
from tests.gateway.conftest import free_port
from tests.gateway.post_office import PATIENCE_SECONDS, QUICK, Post, Taker, taking
from tests.gateway.sites import site_text

HOUSE = """
[broker]
port = 0
[paging]
link_base = "https://sinkside.example.org"
[[role]]
id = "charge"
name = "Charge nurse"
[[channel]]
id = "mail"
kind = "smtp"
host = "127.0.0.1"
port = {port}
sender = "sinkside@example.org"
tls = "none"
[[contact]]
id = "phone-1"
name = "Duty phone 1"
ways = [{{ channel = "mail", address = "duty-1@example.org" }}]
[[duty]]
role = "charge"
contacts = ["phone-1"]
start = 00:00:00
end = 00:00:00
"""


@dataclass
class Mailbox:
    """What a mail server took."""

    mails: list[bytes] = field(default_factory=list)
    came: threading.Event = field(default_factory=threading.Event)

    async def handle_DATA(self, _server: SMTP, _session: Session, envelope: Envelope) -> str:  # noqa: N802
        self.mails.append(envelope.original_content or b"")
        self.came.set()
        return "250 2.0.0 queued as 4F2"


@contextmanager
def serving(mailbox: Mailbox) -> Iterator[int]:
    controller = Controller(mailbox, hostname="127.0.0.1", port=free_port())
    controller.start()
    try:
        yield controller.port
    finally:
        controller.stop()


def house(port: int) -> Setup:
    return parse(site_text(more=HOUSE.format(port=port)), Path("ward.toml"))


def events(folder: Path) -> list[Event]:
    view = JournalView.open(folder / DATABASE)
    found = [EVENT.validate_json(event.body) for event in view.events(0, view.extent().last_event)]
    view.close()
    return found


def reports(folder: Path) -> list[tuple[str, Confirmation]]:
    return [(event.page, event.outcome) for event in events(folder) if isinstance(event, PageReported)]  # type: ignore[misc]  # of those asked for here


def try_pages(service: Service) -> PageAsked:
    said = service.hub.ask(TryPages(arrived=Micros(0), who="R. Tech")).result(PATIENCE_SECONDS)
    (asked,) = (event for event in said if isinstance(event, PageAsked))
    return asked


def test_a_page_goes_out_by_mail_with_a_link_that_leads_back_to_it(tmp_path: Path) -> None:
    mailbox = Mailbox()
    with serving(mailbox) as port, Service(house(port), tmp_path) as service:
        asked = try_pages(service)
        assert mailbox.came.wait(PATIENCE_SECONDS)
        assert service.answering is not None
        mail = email.message_from_bytes(mailbox.mails[0], policy=default)
        found = re.search(r"https://sinkside\.example\.org/p/([A-Za-z0-9_-]{22})", str(mail.get_content()))
        assert found is not None
        page = service.answering.page_of(found[1], service.clock.now())
        assert page is not None
        assert (mail["To"], page.page, page.contact, page.expired) == (
            "duty-1@example.org",
            asked.page,
            "Duty phone 1",
            False,
        )
    assert reports(tmp_path) == [(asked.page, Confirmation.ACCEPTED)]
    (line,) = Logbook(tmp_path / DATABASE).pages().lines
    assert (line.outcome, line.detail, line.waits) == (Confirmation.ACCEPTED, "250 2.0.0 queued as 4F2", False)
    secrets = (found[1].encode(), service.answering.links.key)
    assert not [path.name for path in tmp_path.glob("journal*") for secret in secrets if secret in path.read_bytes()]


def test_links_that_were_sent_before_a_restart_serve_after_it(tmp_path: Path) -> None:
    with taking(Taker()) as taker:
        for start in range(2):
            with Service(house(1), tmp_path, channels={"mail": Post(taker.port)}, send_pace=QUICK) as service:
                assert service.answering is not None
                if not start:
                    asked = try_pages(service)
                    token = service.answering.links.token(asked.page, asked.at)
                page = service.answering.page_of(token, service.clock.now())
                assert page is not None
                assert page.page == asked.page


def test_what_is_under_way_when_the_gateway_stops_is_still_told(tmp_path: Path) -> None:
    with taking(Taker(), held=True) as taker:
        pace = QUICK._replace(stop_seconds=PATIENCE_SECONDS)
        service = Service(house(1), tmp_path, channels={"mail": Post(taker.port)}, send_pace=pace)
        service.start()
        asked = try_pages(service)
        taker.until(lambda: taker.came == [asked.page], "under way")
        stopping = threading.Thread(target=service.stop)
        stopping.start()
        taker.open.set()
        stopping.join()
    assert reports(tmp_path) == [(asked.page, Confirmation.ACCEPTED)]


def test_a_channel_that_hangs_does_not_keep_the_gateway_from_stopping(tmp_path: Path) -> None:
    with taking(Taker(), held=True) as taker:
        pace = SendPace(stop_seconds=0.05)
        with Service(house(1), tmp_path, channels={"mail": Post(taker.port)}, send_pace=pace) as service:
            asked = try_pages(service)
            taker.until(lambda: taker.came == [asked.page], "under way")
        assert not taker.open.is_set()
        (line,) = Logbook(tmp_path / DATABASE).pages().lines
        assert (line.waits, line.outcome, reports(tmp_path)) == (True, None, [])


@pytest.mark.parametrize("link_base", ["https://sinkside.example.org", None])
def test_without_an_address_for_phones_pages_carry_no_links(tmp_path: Path, link_base: str | None) -> None:
    text = site_text(more=HOUSE.format(port=1))
    setup = parse(text if link_base else text.replace("link_base", "# link_base"), Path("ward.toml"))
    with taking(Taker()) as taker, Service(setup, tmp_path, channels={"mail": Post(taker.port)}) as service:
        asked = try_pages(service)
        taker.until(lambda: taker.taken == {asked.page: 1}, "taken")
        assert (service.answering is None) is (link_base is None)
        assert (taker.links[0] is None) is (link_base is None)


def test_a_way_without_its_secret_is_told_on_screens_and_the_log_while_the_gateway_runs(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    named = 'kind = "webhook"\nurl = "http://127.0.0.1:9/pages"\nsecret_file = "secret.txt"\n'
    text = HOUSE.format(port=1) + f'[[channel]]\nid = "house"\n{named}[[channel]]\nid = "hall"\n{named}'
    text = text.replace('secret_file = "secret.txt"\n', 'secret_env = "SINKSIDE_TEST_UNSET"\n', 1)
    setup = parse(site_text(more=text), tmp_path / "ward.toml")
    with Service(setup, tmp_path / "data") as service:
        assert service.pump is not None
        house, hall = service.pump.feed().warnings
        assert house == (
            "No page can go by channel 'house': secret_env names the environment variable 'SINKSIDE_TEST_UNSET', which"
            " is not set; set it, and start Sinkside anew."
        )
        assert hall.startswith("No page can go by channel 'hall': secret_file '")
        assert {house, hall} <= {record.message for record in caplog.records}
        (tmp_path / "secret.txt").write_text("hush")
        ChannelWatch(setup.file.channel, service.pump.warn).look()
        assert service.pump.feed().warnings == (house,)


def test_a_page_that_wants_a_secret_of_the_environment_goes_on_at_once_to_the_next_way(tmp_path: Path) -> None:
    with taking(Taker()) as taker:
        text = (
            HOUSE.format(port=1).replace("ways = [", 'ways = [{ channel = "house", address = "charge" }, ')
            + '[[channel]]\nid = "house"\nkind = "webhook"\nurl = "http://127.0.0.1:9/"\n'
            + 'secret_env = "SINKSIDE_TEST_UNSET"\n'
        )
        text += '[[route]]\nname = "All"\ntiers = [{ roles = ["charge"] }]\n'
        setup = parse(site_text(more=text), tmp_path / "ward.toml")
        ways = channels_of(setup.file) | {"mail": Post(taker.port)}
        with Service(setup, tmp_path / "data", channels=ways) as service:
            service.hub.ask(TryPages(arrived=Micros(0), who="R. Tech")).result(PATIENCE_SECONDS)
            taker.until(lambda: len(taker.taken) == 1, "taken by the next way")
    told = {event.outcome for event in events(tmp_path / "data") if isinstance(event, PageReported)}
    assert PageEnd.REFUSED in told
