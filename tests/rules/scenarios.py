"""For every standard rule one scenario that raises its alert, and what ends it."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date

from rules.commands import Entry
from rules.probe_words import Step
from rules.readings import GATEWAY_LINK, GATEWAY_STORE, Reading, StripResult
from rules.site import Site
from tests.rules.bath import discard, pour, strip
from tests.rules.cared import LET_GO, MAINS, PLUGGED, PRESSED, WIPED, cared_for, gel_discarded, gel_opened
from tests.rules.feeder import (
    BASIN_LINK,
    HOOK_A,
    LID,
    LIFTED,
    MOTION,
    OFF_HOOK,
    OFFLINE,
    ON_HOOK,
    ONLINE,
    ROLLS,
    STANDS,
    TEMPERATURE,
    Feeder,
    closed,
    department,
    in_order,
    read,
    soak,
    steps,
    warm,
)
from tests.rules.followed import CONTACT, SHOCK, T1, TAG, did, followed, hung, inspected, vouch, whole_way
from tests.rules.sniffed import SENSOR, air, line, sniffed


@dataclass(frozen=True)
class Scenario:
    """What raises one rule's alert.

    trouble: readings and entries in order of arrival; the alert is raised at ``raised``, seconds of the test.
    cause: when that came about which the rule waits for; on-delay = raised - cause.
    remedy: readings that end it, at or after ``raised``; where it stands until acknowledged, a person does.
    over: when it is over, None where a person has to answer for it.
    about_now: whether it tells of the present by a sensor's own time, so that old readings raise nothing.
    """

    trouble: Sequence[Reading | Entry]
    cause: float
    raised: float
    remedy: Sequence[Reading | Entry]
    over: float | None
    about_now: bool = True
    site: Site = field(default_factory=department)

    def feeder(self) -> Feeder:
        """A department in which nothing has happened yet."""
        return Feeder(self.site)


def shaken(celsius: float, start: float, end: float) -> list[Reading]:
    """A thermometer that works: the number is not the very same each time."""
    return warm(lambda t: celsius + (t // 10 % 2) / 16, start, end)


_EXAM = [
    read(HOOK_A, ON_HOOK, 0),
    read(HOOK_A, OFF_HOOK, 10),
    read(CONTACT, "mucosa", 20),
    read(HOOK_A, ON_HOOK, 40),
]
"""A probe is taken, touches mucosa and is hung back."""

PROBE = {"id": "curved-1", "name": "Curved 1", "cart": "cart-1", "cord": "a"}

SCENARIOS = {
    # Moving for 1 s is rolling (that department's); hung up for 3 s it is over.
    "cord-down-rolling": Scenario(
        trouble=[read(HOOK_A, OFF_HOOK, 0), read(MOTION, ROLLS, 10)],
        cause=11,
        raised=11,
        remedy=[read(HOOK_A, ON_HOOK, 20)],
        over=23,
    ),
    # Rolling after 1 s (that department's), and then 2 s (our default); standing after 3 s, and then 30 s.
    "moved-plugged-in": Scenario(
        trouble=[read(MAINS, PLUGGED, 0), read(MOTION, ROLLS, 10)],
        cause=11,
        raised=13,
        remedy=[read(MOTION, STANDS, 20)],
        over=53,
        site=cared_for(care={}),
    ),
    # Off its hook, as it says every minute, for 45 min (our default).
    "cord-left-off": Scenario(
        trouble=[read(HOOK_A, OFF_HOOK, minute * 60) for minute in range(46)],
        cause=2700,
        raised=2700,
        remedy=[read(HOOK_A, ON_HOOK, 2710)],
        over=2710,
    ),
    # The night begins at second 400, and again a piece of it every two hours; then 5 min (our default).
    "wipe-down-due": Scenario(
        trouble=[read(WIPED, LET_GO, 0)],
        cause=400,
        raised=700,
        remedy=[read(WIPED, PRESSED, 710)],
        over=710,
        site=cared_for(),
    ),
    # Second 0 is 14 November: opened on 17 October it was good for 28 days.
    "gel-out-of-date": Scenario(
        trouble=[gel_opened(10, date(2023, 10, 17))],
        cause=10,
        raised=10,
        remedy=[gel_discarded(20)],
        over=20,
        about_now=False,
    ),
    # 12 min by the label; lifted a second early and not closed again for 60 s.
    "soak-too-short": Scenario(trouble=soak(719, 21), cause=879, raised=879, remedy=[], over=None, about_now=False),
    "soak-not-met": Scenario(trouble=soak(720, 19), cause=820.5, raised=820.5, remedy=[], over=None, about_now=False),
    # The soak is known half a second after its lid closed; then 30 s.
    "soak-cold": Scenario(
        trouble=in_order(shaken(19, 80, 150), closed(100, 300)[:2]),
        cause=100.5,
        raised=130.5,
        remedy=in_order(shaken(21, 160, 220), closed(100, 300)[2:4]),
        over=190,
    ),
    "soak-never-done": Scenario(
        trouble=in_order(warm(19, 80, 230), closed(100, 300)[:5]),
        cause=100.5,
        raised=220.5,
        remedy=in_order(warm(21, 240, 400), closed(100, 500)[5:10]),
        over=250,
    ),
    "lid-open-over-soak": Scenario(
        trouble=in_order(shaken(21, 80, 420), closed(100, 400)),
        cause=400.5,
        raised=410.5,
        remedy=closed(425, 1150),
        over=425.5,
    ),
    # A probe that stands 20 min, by its maker.
    "over-soak": Scenario(
        trouble=in_order(shaken(21, 80, 1290), closed(100, 1400)[:-4]),
        cause=1300,
        raised=1300,
        remedy=[read(LID, LIFTED, 1330)],
        over=1330.5,
        site=department(
            probe=[
                {"id": "p", "name": "P", "cart": "cart-1", "cord": "a", "basins": ["basin-1"], "max_soak_minutes": 20}
            ]
        ),
    ),
    "solution-out-of-date": Scenario(
        trouble=[pour(10, opened=None)], cause=10, raised=10, remedy=[discard(20)], over=20, about_now=False
    ),
    "strip-failed": Scenario(
        trouble=[pour(0), strip(10, StripResult.FAIL)],
        cause=10,
        raised=10,
        remedy=[discard(20)],
        over=20,
        about_now=False,
    ),
    # Second 0 is 22:13:20 on 14 November, UTC: at second 6400 less than a day is left of the 15th.
    "solution-ends-soon": Scenario(
        trouble=[pour(7000, printed_expiry=date(2023, 11, 15))],
        cause=7000,
        raised=7000,
        remedy=[discard(7010)],
        over=7010,
        about_now=False,
    ),
    # Hung back after an exam, and taken for another: longer than 15 s off its hook (our default).
    "probe-used-again": Scenario(
        trouble=[*_EXAM, read(HOOK_A, OFF_HOOK, 60), read(HOOK_A, ON_HOOK, 80)],
        cause=80,
        raised=125,
        remedy=[did(135, Step.WASHED, Step.DRIED, Step.STERILISED)],
        over=135,
        about_now=False,
        site=followed(),
    ),
    "probe-used-uncleaned": Scenario(
        trouble=[
            read(HOOK_A, ON_HOOK, 0),
            vouch(1),
            read(HOOK_A, OFF_HOOK, 20),
            read(HOOK_A, ON_HOOK, 50),
            read(HOOK_A, OFF_HOOK, 60),
            read(HOOK_A, ON_HOOK, 90),
        ],
        cause=90,
        raised=90,
        remedy=[did(95, Step.WASHED, Step.DRIED)],
        over=95,
        about_now=False,
        site=followed({"unmarked_use": "skin"}),
    ),
    # That the cart stands mends nothing: the probe has to leave its hook.
    "probe-rolls-away": Scenario(
        trouble=[*_EXAM, read(MOTION, ROLLS, 50)],
        cause=51,
        raised=53,
        remedy=[read(MOTION, STANDS, 60), read(HOOK_A, OFF_HOOK, 70)],
        over=70,
        site=followed(),
    ),
    "probe-waits": Scenario(
        trouble=[*_EXAM, *hung(100, 940)],
        cause=40,
        raised=940,
        remedy=[read(HOOK_A, OFF_HOOK, 945), did(950, Step.WASHED)],
        over=950,
        site=followed(),
    ),
    "probe-waits-too-long": Scenario(
        trouble=[*_EXAM, *hung(100, 3640)],
        cause=40,
        raised=3640,
        remedy=[read(HOOK_A, OFF_HOOK, 3645), did(3650, Step.WASHED)],
        over=3650,
        site=followed(),
    ),
    # The strip failed, and the solution was thrown away; washed, it waits no more.
    "probe-held": Scenario(
        trouble=[*whole_way(), strip(2000, StripResult.FAIL), discard(2100), *hung(2160, 3000)],
        cause=2101,
        raised=3001,
        remedy=[read(HOOK_A, OFF_HOOK, 3005), did(3010, Step.WASHED)],
        over=3010,
        site=followed(),
    ),
    "probe-not-allowed": Scenario(
        trouble=[read(TAG, T1, 10)],
        cause=10,
        raised=15,
        remedy=[read(TAG, "", 20)],
        over=20,
        about_now=False,
        site=followed(max_soak_minutes=10),
    ),
    "probe-to-inspect": Scenario(
        trouble=[read(SHOCK, 50, 10)],
        cause=10,
        raised=10,
        remedy=[inspected(20)],
        over=20,
        about_now=False,
        site=followed(),
    ),
    # The reader of the basin sends what it kept: then it is known whose the soak was.
    "soak-unclaimed": Scenario(
        trouble=soak(720, 21),
        cause=820.5,
        raised=1420.5,
        remedy=[read(TAG, T1, at, 1430) for at in steps(95, 815, 30)],
        over=1430,
        site=followed(),
    ),
    # Steep once five readings make a trend, then 1 min; the second low one turns the median slope, then 5 min (ours).
    "vapour-rising": Scenario(
        trouble=line(1, every=225),
        cause=900,
        raised=960,
        remedy=air(0.1, 1125, 1350, every=225),
        over=1650,
        site=sniffed(sensor=[{**SENSOR, "report_seconds": 300}]),
    ),
    # A hook reports every 60 s; three of these without a word are silence.
    "sensor-silent": Scenario(
        trouble=[read(HOOK_A, ON_HOOK, 0)], cause=180, raised=180, remedy=[read(HOOK_A, ON_HOOK, 200)], over=200
    ),
    "device-offline": Scenario(
        trouble=[read(BASIN_LINK, ONLINE, 0), read(BASIN_LINK, OFFLINE, 10)],
        cause=10,
        raised=40,
        remedy=[read(BASIN_LINK, ONLINE, 50)],
        over=50,
        about_now=False,
    ),
    "sensor-implausible": Scenario(
        trouble=[read(TEMPERATURE, 21, 0), read(TEMPERATURE, 40, 10)],
        cause=10,
        raised=10,
        remedy=shaken(40, 20, 310),
        over=310,
    ),
    # Ten minutes behind by every word for a minute (our default), then set.
    "clock-behind": Scenario(
        trouble=[read(LID, LIFTED, at - 600, at) for at in (0, 30, 60)],
        cause=60,
        raised=60,
        remedy=[read(LID, LIFTED, 90)],
        over=90,
    ),
    "gateway-cut-off": Scenario(
        trouble=[read(GATEWAY_LINK, ONLINE, 0), read(GATEWAY_LINK, OFFLINE, 10)],
        cause=10,
        raised=20,
        remedy=[read(GATEWAY_LINK, ONLINE, 30)],
        over=30,
        about_now=False,
    ),
    # Lost for the third time in ten minutes (our default), and then not so often any more.
    "gateway-unsteady": Scenario(
        trouble=[read(GATEWAY_LINK, at % 100 == 0, at) for at in (0, 5, 100, 105, 200, 205)],
        cause=205,
        raised=205,
        remedy=[read(GATEWAY_LINK, ONLINE, 210)],
        over=605,
        about_now=False,
    ),
    "gateway-cannot-store": Scenario(
        trouble=[read(GATEWAY_STORE, OFFLINE, 10)],
        cause=10,
        raised=10,
        remedy=[read(GATEWAY_STORE, ONLINE, 20)],
        over=20,
        about_now=False,
    ),
}
"""By rule id. Not about now by a time of their own: verdicts on soaks, entries, links, whose words carry no time."""

ABOUT_PAGES = (
    "page-not-confirmed",
    "channel-not-confirmed",
    "no-channel-works",
    "nobody-on-duty",
    "test-page-not-confirmed",
)
"""Rules that no reading and no entry raises, but what becomes of pages: see test_ways.py."""
