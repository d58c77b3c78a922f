"""What a look-back offers to look for."""

from dataclasses import replace
from urllib.parse import parse_qsl, urlsplit
from zoneinfo import ZoneInfo

from dashboard.happening import Telling
from dashboard.logbook_queries import asked
from dashboard.look_back import LookBackQuery, failed_strips, look_back_listing, look_back_view
from gateway.look_back import FailedStrip, LookBack, Overturned, Suspect, TouchedProbe, TouchedSoak, Use
from gateway.soak_log import ProbeName
from gateway.told import BasinPlace, Struck
from rules.readings import Micros, StripResult
from rules.verdict import Outcome
from tests.dashboard.soaks import after, solution, strip

LISBON = ZoneInfo("Europe/Lisbon")
TELLING = Telling(LISBON, {})


def test_a_strip_that_failed_is_looked_back_for_by_no_earlier_time_than_its_own() -> None:
    read = strip()
    failed = replace(read, strip=replace(read.strip, result=StripResult.FAIL, dipped=Micros(after(-300) + 700_000)))
    (link,) = failed_strips([replace(solution(), strips=(read, failed))], TELLING)
    params = dict(parse_qsl(urlsplit(link.href).query))
    question = asked(LookBackQuery, params).question(LISBON)
    assert isinstance(question, FailedStrip)
    assert question.at is not None
    assert 0 <= question.at - failed.strip.at < 1_000_000


def suspect(number: int, basin: str, uses: int) -> TouchedSoak:
    place = BasinPlace(basin, f"Basin {basin}", "room", "Room")
    name, at = ProbeName(f"probe-{number}", f"Probe {number}", None), after(number * 100)
    probe = TouchedProbe(name, at, tuple(Use(at, marked=True) for _ in range(uses)), None, "hold it")
    return TouchedSoak(Suspect(f"{basin}.{number}", place, at, at, Outcome.TOO_SHORT, "so"), (probe,), "")


def test_what_a_look_back_touches_is_searched_and_sorted_and_its_sentences_tell_of_all() -> None:
    found = LookBack(Overturned(), None, (suspect(1, "b", 2), suspect(2, "a", 5), suspect(3, "b", 0)))
    listing = look_back_listing(LookBackQuery(what="record"))
    for params, ids, shown in (
        ("", ["b.1", "a.2", "b.3"], ""),
        ("sort=-uses", ["a.2", "b.1", "b.3"], ""),
        ("sort=basin&text=BASIN+B", ["b.1", "b.3"], "Of them 2 are shown."),
        ("text=probe-2", ["a.2"], "Of them 1 is shown."),
    ):
        view = look_back_view(found, TELLING, listing, listing.asked(parse_qsl(params)))
        assert [soak.id for soak in view.soaks] == ids
        assert view.shown == shown
        assert "3 soaks, 3 probes and 7 uses since." in view.said


def test_a_failed_strip_that_was_struck_is_not_offered() -> None:
    read = strip()
    failed = replace(read, strip=replace(read.strip, result=StripResult.FAIL))
    struck = replace(failed, struck=Struck(after(0), "N. Charge", "other basin"))
    assert failed_strips([replace(solution(), strips=(struck,))], TELLING) == ()
