"""What a look-back offers to look for."""

from dataclasses import replace
from urllib.parse import parse_qsl, urlsplit
from zoneinfo import ZoneInfo

from dashboard.happening import Telling
from dashboard.logbook_queries import asked
from dashboard.look_back import LookBackQuery, failed_strips
from gateway.look_back import FailedStrip
from gateway.told import Struck
from rules.readings import Micros, StripResult
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


def test_a_failed_strip_that_was_struck_is_not_offered() -> None:
    read = strip()
    failed = replace(read, strip=replace(read.strip, result=StripResult.FAIL))
    struck = replace(failed, struck=Struck(after(0), "N. Charge", "other basin"))
    assert failed_strips([replace(solution(), strips=(struck,))], TELLING) == ()
