"""A journal as a gateway would have written it, for the pages of the logbook: one probe, two soaks, a strike."""

import csv
import re
from concurrent.futures import Future
from dataclasses import dataclass
from html import unescape
from io import StringIO
from pathlib import Path

from httpx import Client

from gateway.hub import Feed, Hub, RecordHead
from rules.commands import Command
from rules.events import EVENT, Event
from rules.probe_words import Place, Step
from rules.readings import SECOND, Micros, StripResult
from tests.dashboard.pictures import basin, picture
from tests.dashboard.serving import Desk
from tests.gateway.books import Book, merged, opened, site_text
from tests.rules.bath import pour, strike, strip
from tests.rules.feeder import instant, soak
from tests.rules.followed import claim, contact, did, inspected, placed

TRACKED = "[reprocessing]\ntracked = true\n"

HEAD = RecordHead(4711, bytes(range(32)), instant(4000))

HOSTILE = '<img src=x onerror="alert(1)">'
"""As somebody's name, a lot, an exam: it must be shown as what it is."""


def book(folder: Path, *, lot: str = "L1", exam: str = "EX-2291") -> Book:
    """A sound soak of a probe with all that goes with it, and one that was too short, of nobody knows what.

    A contact and a strip that failed were entered wrongly and are struck.
    """
    wrong, failed = contact(15, "blood"), strip(1985, StripResult.FAIL)
    before = [pour(0, lot=lot), wrong, strip(10, dipped=2), contact(20, exam=exam)]
    cleaned = [did(60, Step.COVER_OFF, Step.WASHED, Step.DRIED), inspected(70)]
    after = [claim(900), did(950, Step.RINSED, times=3), did(960, Step.DRIED), placed(970, Place.HOOK, "cart-1")]
    short = [strip(1980, dipped=1975), failed, *soak(300, 21, start=2000)]
    strikes = [strike(wrong, 3000), strike(failed, 3100)]
    said = merged(before, cleaned, soak(720, 21), after, short, strikes)
    return Book(folder, site_text("Europe/Lisbon", TRACKED)).feed(said).until(4000)


def written(folder: Path, *, lot: str = "L1", exam: str = "EX-2291") -> Path:
    """The same, with the pen put down."""
    whole = book(folder, lot=lot, exam=exam)
    whole.closed()
    return whole.path


def failed_strip(folder: Path) -> Path:
    """A sound soak, after it a use of its probe, and then a strip that fails."""
    before = [pour(0), strip(10, dipped=2), contact(20), did(60, Step.COVER_OFF, Step.WASHED, Step.DRIED)]
    after = [claim(900), did(950, Step.RINSED), did(960, Step.DRIED), contact(1500, "skin", exam="EX-9")]
    said = merged(before, soak(720, 21), after, [strip(1980, StripResult.FAIL)])
    book = Book(folder, site_text("Europe/Lisbon", TRACKED)).feed(said).until(4000)
    book.closed()
    return book.path


@dataclass
class Pen:
    """The answering end of a hub that writes on in a book, as the pump does; a command arrives in the book's time."""

    book: Book
    refusal: Exception | None = None

    def ask(self, command: Command) -> "Future[list[Event]]":
        answer: Future[list[Event]] = Future()
        if self.refusal is not None:
            answer.set_exception(self.refusal)
            return answer
        extent = self.book.journal.extent
        self.book.feed([command.model_copy(update={"arrived": Micros(extent.clock + SECOND)})])
        with opened(self.book.path) as view:
            told = view.events(extent.last_event, view.extent().last_event)
            answer.set_result([EVENT.validate_json(event.body) for event in told])
        return answer


def desk_hub() -> Hub:
    """Before a gateway with a basin."""
    return Hub(Feed(picture(basin()), head=HEAD), Desk().ask)


def words(client: Client, path: str) -> str:
    """The visible words of a page."""
    answer = client.get(path)
    assert answer.status_code == 200, answer.text
    return plain(answer.text)


def plain(html: str) -> str:
    """The visible words of some HTML."""
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", re.sub(r"(?s)<head>.*?</head>", "", html))).split())


def table(client: Client, path: str) -> list[dict[str, str]]:
    """A file's rows by their headings."""
    answer = client.get(path)
    assert answer.headers["content-type"] == "text/csv; charset=utf-8; header=present"
    return list(csv.DictReader(StringIO(answer.text, newline="")))
