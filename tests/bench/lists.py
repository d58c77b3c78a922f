"""The first page of each list of the record, of a year against a day of one department: python -m tests.bench.lists.

The floor is the same list of a day; a ratio near one says that a page costs what it shows, not what the record holds.
"""

import json
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from time import process_time
from typing import Any

from gateway.alert_log import AlertFilter, AlertOrder
from gateway.logbook import Logbook
from gateway.ordered import Turn
from gateway.schema import open_writer
from gateway.soak_log import SoakFilter, SoakOrder
from rules.readings import DAY, Micros
from rules.verdict import Outcome
from tests.bench.traffic import say
from tests.dashboard.logbooks import written
from tests.rules.feeder import instant

SOAKS_A_DAY, DAYS = 110, 365
ROUNDS = 5
BASINS = 12
HALF_A_DAY_ON = Micros(instant(4000) + DAY // 2)

QUESTIONS: dict[str, Callable[[Logbook], object]] = {
    "soaks, the newest": lambda book: book.soaks(),
    **{f"soaks by {order}": lambda book, order=order: book.soaks(turn=Turn(order)) for order in list(SoakOrder)[1:]},
    "soaks of a basin": lambda book: book.soaks(SoakFilter(basin="basin-3")),
    "soaks too cold, of which there is none": lambda book: book.soaks(SoakFilter(outcome=Outcome.TOO_COLD)),
    "soaks with a text that none has": lambda book: book.soaks(SoakFilter(text="no such words")),
    "alerts, the newest": lambda book: book.alerts(),
    **{f"alerts by {order}": lambda book, order=order: book.alerts(turn=Turn(order)) for order in list(AlertOrder)[1:]},
    "alerts with a text that none has": lambda book: book.alerts(AlertFilter(text="no such words")),
    "how a probe stood in the middle of the first day": lambda book: book.probe_at("curved-1", HALF_A_DAY_ON),
}


def main() -> None:
    """Make two records, and read the first page of each list of both."""
    with tempfile.TemporaryDirectory() as folder:
        day, year = (record(Path(folder) / name, days) for name, days in (("day", 1), ("year", DAYS)))
        say(f"lists     of {SOAKS_A_DAY * DAYS:,} soaks and as many alerts, CPU ms of the first page: year, day, ratio")
        for name, ask in QUESTIONS.items():
            long, short = (min(seconds(ask, book) for _ in range(ROUNDS)) * 1000 for book in (year, day))
            say(f"{name:42} {long:8.1f} {short:8.1f} {long / short:6.1f}")


def seconds(ask: Callable[[Logbook], object], book: Logbook) -> float:
    """What it costs the processor."""
    begin = process_time()
    ask(book)
    return process_time() - begin


def record(folder: Path, days: int) -> Logbook:
    """A record with soaks and alerts of so many days besides those of a small book of the tests."""
    folder.mkdir(mode=0o700)
    path = written(folder)
    db = open_writer(path)
    known = {kind: json.loads(body) for kind, body in db.execute("SELECT kind, body FROM event").fetchall()}
    (first,) = db.execute("SELECT max(seq) + 1 FROM event").fetchone()
    told = enumerate(happening(known, days), first)
    rows = ((number, event["at"], event["kind"], json.dumps(event)) for number, event in told)
    db.execute("BEGIN")
    db.conn.executemany("INSERT INTO event (seq, at, after_input, kind, body) VALUES (?, ?, 1, ?, ?)", rows)
    db.execute("COMMIT")
    db.close()
    return Logbook(path)


def happening(known: dict[str, dict[str, Any]], days: int) -> Iterator[dict[str, Any]]:
    """A soak, an alert, and a probe off its hook and on it again every 13 minutes; known: an event of each kind."""
    started, ended = known["soak started"], known["soak ended"]
    begin = int(ended["at"]) + 1_000_000_000
    for number in range(SOAKS_A_DAY * days):
        at, basin = begin + number * 786_000_000, f"basin-{number % BASINS + 1}"
        soak = {"soak": f"{basin}.{number + 100}", "basin": basin, "start": at}
        yield {**started, **soak, "at": at}
        yield {**ended, **soak, "end": at + 720_000_000, "at": at + 720_000_000}
        alert = {"at": at + 730_000_000, "alert": f"alert-{number}"}
        about = {"rule": f"rule-{number % 7}", "subject": f"basin {basin}", "priority": "high"}
        yield {"kind": "alert raised", **alert, **about, "text": "solution too cold", "advice": "Warm it."}
        yield {"kind": "alert acknowledged", **alert, "who": "Ana"}
        yield {"kind": "alert over", **alert, "why": "cleared"}
        for moved, place in ((at + 740_000_000, "in hands"), (at + 760_000_000, "hook")):
            seen = {"at": moved, "measured": moved, "place": place, "thing": None, "who": None}
            yield {**known["probe seen"], **seen}
            yield {**known["probe stands"], **seen, "at": moved + 1}


if __name__ == "__main__":
    main()
