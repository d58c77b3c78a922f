"""Times as people write and read them: ISO 8601, local to the site where no offset is given."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from rules.readings import SECOND, Micros

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)

FIRST_YEAR, LAST_YEAR = 1970, 2200
"""Between them lies what can be asked for, as for the days that people enter (rules.commands.Day)."""


class WhenError(ValueError):
    """A time that cannot be used; one sentence says what was expected."""


def instant_of(text: str, zone: ZoneInfo) -> Micros:
    """The instant that ``2026-03-01 14:05`` means, with or without seconds and offset.

    Raises:
        WhenError: it is no such time, too far off, or the clocks of the site showed it never, or twice.
    """
    try:
        told = datetime.fromisoformat(text)
    except ValueError as error:
        text = f"'{text}' is no time; expected such as '2026-03-01 14:05', or with an offset, '2026-03-01T14:05+01:00'."
        raise WhenError(text) from error
    if not FIRST_YEAR < told.year < LAST_YEAR:
        raise WhenError(f"'{text}' lies too far off; expected a time from {FIRST_YEAR + 1} to {LAST_YEAR - 1}.")
    if told.tzinfo is not None:
        return _micros(told)
    first, second = (told.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    if _micros(first) != _micros(second):
        raise WhenError(_unclear(text, first, second, zone))
    return _micros(first)


def _unclear(text: str, first: datetime, second: datetime, zone: ZoneInfo) -> str:
    """A time that was there twice has its second instant later, one that was skipped has it earlier (PEP 495)."""
    offsets = " or ".join(f"{at:%z}" for at in (first, second))
    what = "twice" if _micros(first) < _micros(second) else "never"
    return f"The clocks of {zone.key} showed '{text}' {what}, as they were changed; add the offset meant, {offsets}."


def local(at: Micros, zone: ZoneInfo) -> datetime:
    """An instant as an aware time in a zone."""
    return (EPOCH + timedelta(microseconds=at)).astimezone(zone)


def written(at: Micros, zone: ZoneInfo) -> str:
    """``2026-03-01 14:05:00`` in a zone; with the offset in the hour that comes twice in autumn."""
    then = local(at, zone)
    return f"{then:%Y-%m-%d %H:%M:%S}{offset_where_twice(then)}"


def offset_where_twice(then: datetime) -> str:
    """`` (UTC+0100)`` where the clocks show that time twice, else ''."""
    comes_twice = then.replace(fold=1 - then.fold).utcoffset() != then.utcoffset()
    return f" (UTC{then:%z})" if comes_twice else ""


def written_whole(at: Micros, zone: ZoneInfo) -> str:
    """``2026-03-01T14:05:00+01:00`` (RFC 3339), which means the same everywhere."""
    return local(at, zone).isoformat(timespec="seconds")


def _micros(told: datetime) -> Micros:
    passed = told - EPOCH
    return Micros((passed.days * 86_400 + passed.seconds) * SECOND + passed.microseconds)
