"""What people enter at the basin of tests/rules/feeder.py: by default a solution in date and a good strip."""

from datetime import date

from rules.commands import Discard, Entry, Pour, SensorFoundOff, Strike, StripRead, TopUp
from rules.readings import StripResult
from tests.rules.feeder import TEMPERATURE, instant

TODAY = date(2023, 11, 14)
"""The day of second 0, UTC."""

FAR = date(2030, 1, 1)


def pour(
    at: float,
    arrived: float | None = None,
    *,
    label: str = "opa-0.55-manual",
    lot: str = "L1",
    printed_expiry: date | None = FAR,
    opened: date | None = TODAY,
    opened_days: int | None = 365,
) -> Pour:
    """Poured at ``at`` and entered at ``arrived``, seconds of the test."""
    return Pour(
        arrived=instant(at if arrived is None else arrived),
        measured=instant(at),
        who="R. Tech",
        basin="basin-1",
        label=label,
        lot=lot,
        printed_expiry=printed_expiry,
        opened=opened,
        opened_days=opened_days,
    )


def top_up(at: float, arrived: float | None = None) -> TopUp:
    """Topped up at ``at``."""
    entered = instant(at if arrived is None else arrived)
    return TopUp(arrived=entered, measured=instant(at), who="R. Tech", basin="basin-1", lot="L1")


def discard(at: float, arrived: float | None = None) -> Discard:
    """Discarded at ``at``."""
    entered = instant(at if arrived is None else arrived)
    return Discard(arrived=entered, measured=instant(at), who="R. Tech", basin="basin-1")


def strip(
    at: float,
    result: StripResult = StripResult.PASS,
    arrived: float | None = None,
    *,
    dipped: float | None = None,
    expiry: date | None = FAR,
) -> StripRead:
    """Read at ``at``."""
    return StripRead(
        arrived=instant(at if arrived is None else arrived),
        measured=instant(at),
        who="R. Tech",
        basin="basin-1",
        result=result,
        dipped=None if dipped is None else instant(dipped),
        lot="S1",
        expiry=expiry,
    )


def strike(entry: Entry, at: float, why: str = "wrong basin") -> Strike:
    """Somebody else says at ``at`` that the entry was wrong."""
    return Strike(arrived=instant(at), who="S. Lead", entry=entry, why=why)


def off(
    error: float, at: float, since: float = 0, sensor: str = TEMPERATURE, why: str = "compared in the lab"
) -> SensorFoundOff:
    """Told at ``at``: since then it has read so much too much."""
    return SensorFoundOff(
        arrived=instant(at), who="B. Med", sensor=sensor, since=instant(since), error_celsius=error, why=why
    )
