"""Pages of a gateway in a process of its own that is killed between sending and marking, with real servers and disk."""

import random
import signal
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlite_utils.utils import sqlite3  # type: ignore[attr-defined]  # re-exported, which its types do not say

from gateway.broker import EmbeddedBroker
from gateway.record_check import check_record
from gateway.replay import verify
from gateway.schema import DATABASE
from rules.alert_events import PageAsked, PageReported
from rules.alert_words import Confirmation
from tests.gateway.post_office import Taker, taking
from tests.gateway.process import Gateway
from tests.gateway.sites import site_text

CONTACTS = 8
HOUSE = """
[broker]
url = "mqtt://127.0.0.1:{port}"
[[role]]
id = "charge"
name = "Charge nurse"
[[channel]]
id = "mail"
kind = "smtp"
host = "127.0.0.1"
sender = "sinkside@example.org"
tls = "none"
[[duty]]
role = "charge"
contacts = [{contacts}]
start = 00:00:00
end = 00:00:00
"""
CONTACT = """
[[contact]]
id = "phone-{n}"
name = "Duty phone {n}"
ways = [{{ channel = "mail", address = "duty-{n}@example.org" }}]
"""


@pytest.fixture
def taker() -> Iterator[Taker]:
    """A server that takes pages and is held: it answers nobody yet."""
    with taking(Taker(), held=True) as opened:
        yield opened


@pytest.fixture
def gateway(tmp_path: Path, embedded: EmbeddedBroker, taker: Taker) -> Iterator[Gateway]:
    """A gateway that is running; its eight contacts are on duty day and night."""
    site = tmp_path / "site.toml"
    names = [f"phone-{n}" for n in range(CONTACTS)]
    house = HOUSE.format(port=embedded.port, contacts=", ".join(map(repr, names)))
    site.write_text(site_text("testing", more=house + "".join(CONTACT.format(n=n) for n in range(CONTACTS))))
    made = Gateway(site, tmp_path / "data", takers={"mail": taker.port})
    made.start()
    yield made
    made.end(0)
    assert verify(made.folder / DATABASE).differences == ()
    assert check_record(made.folder / DATABASE).misfits == ()


def asked(gateway: Gateway) -> list[str]:
    return [event.page for event in gateway.events() if isinstance(event, PageAsked)]


def accepted(gateway: Gateway) -> list[str]:
    reports = [event for event in gateway.events() if isinstance(event, PageReported)]
    return sorted(event.page for event in reports if event.outcome is Confirmation.ACCEPTED)


def test_killed_between_send_and_mark_each_page_is_sent_again_by_the_same_id_and_told_once(
    gateway: Gateway, taker: Taker
) -> None:
    gateway.try_pages()
    taker.until(lambda: len(taker.came) == 4, "four pages under way")
    first = set(taker.came)
    gateway.end(signal.SIGKILL)
    assert accepted(gateway) == []
    assert len(asked(gateway)) == CONTACTS
    taker.open.set()  # now it says yes, to nobody
    taker.until(lambda: sum(taker.taken.values()) == 4, "four pages taken")
    gateway.start()
    gateway.until(lambda: len(accepted(gateway)) == CONTACTS, "every page told of")
    assert accepted(gateway) == sorted(asked(gateway))
    assert {page for page, times in taker.taken.items() if times == 2} == first  # the same ids: the other side can tell
    assert set(taker.taken) == set(asked(gateway))
    assert not [line for line in gateway.pages() if line.waits]


def test_killed_while_what_became_of_a_page_cannot_be_written_it_is_sent_again(gateway: Gateway, taker: Taker) -> None:
    gateway.try_pages()
    taker.until(lambda: len(taker.came) == 4, "four pages under way")
    holder = sqlite3.connect(str(gateway.folder / DATABASE), isolation_level=None)
    holder.execute("BEGIN EXCLUSIVE")
    taker.open.set()
    gateway.await_told(lambda _hearing, trouble: trouble is not None and "locked" in trouble)
    gateway.end(signal.SIGKILL)
    holder.execute("ROLLBACK")
    holder.close()
    assert accepted(gateway) == []
    gateway.start()
    gateway.until(lambda: len(accepted(gateway)) == CONTACTS, "every page told of")
    assert set(taker.taken) == set(asked(gateway))


def test_a_gateway_ends_though_a_channel_hangs_and_sends_what_is_left_when_it_is_started_again(
    gateway: Gateway, taker: Taker
) -> None:
    gateway.try_pages()
    taker.until(lambda: len(taker.came) == 4, "four pages under way")
    gateway.end(0)
    assert len([line for line in gateway.pages() if line.waits]) == CONTACTS
    taker.open.set()
    gateway.start()
    gateway.until(lambda: len(accepted(gateway)) == CONTACTS, "every page told of")
    assert set(taker.taken) == set(asked(gateway))


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_killed_at_random_instants_no_page_is_lost_though_the_channel_fails_three_times_in_ten(
    gateway: Gateway, taker: Taker, seed: int
) -> None:
    chance = random.Random(seed)  # noqa: S311 - it has to come out the same again
    taker.judge = lambda _page, _time: 503 if chance.random() < 0.3 else 202
    taker.open.set()
    gateway.try_pages()
    gateway.until(lambda: len(asked(gateway)) == CONTACTS, "every page asked for")
    for _ in range(4):
        threading.Event().wait(chance.uniform(0, 0.1))  # somewhere in the middle of sending
        gateway.end(signal.SIGKILL)
        gateway.start()
    gateway.until(lambda: len(accepted(gateway)) == CONTACTS, "every page told of")
    assert accepted(gateway) == sorted(asked(gateway))
    assert set(taker.taken) == set(asked(gateway))
