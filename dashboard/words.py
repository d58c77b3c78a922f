"""How figures are said on the screens: times of day, durations, temperatures."""

from datetime import date
from math import ceil, floor
from zoneinfo import ZoneInfo

from gateway.when import local, offset_where_twice
from rules.readings import SECOND, Micros

_MINUTE = 60
_HOUR = 60 * _MINUTE
_LONGEST_IN_MINUTES = 100 * _MINUTE
_DAYS_BY_NAME = 6
NOT_KNOWN = "not known"
PHONE_ALERTS, PHONE_SENSORS = "on the phone, Alerts", "on the phone, Sensors"
"""Where a wall, at which nothing can be pressed, sends people: the page as it is called in the menu."""


def clock(at: Micros, zone: ZoneInfo) -> str:
    """``14:03:20`` in the site's zone."""
    return f"{local(at, zone):%H:%M:%S}"


def hour(at: Micros, zone: ZoneInfo) -> str:
    """``14:03``, for what is less than a day away."""
    return f"{local(at, zone):%H:%M}"


def stamp(at: Micros, zone: ZoneInfo) -> str:
    """``25 Nov 2026 14:03:20``, to be read years later; with the offset in the hour that comes twice in autumn."""
    then = local(at, zone)
    return f"{day_words(then.date())} {then:%H:%M:%S}{offset_where_twice(then)}"


def end_stamp(end: Micros, zone: ZoneInfo) -> str:
    """The last moment before an end: ``end of 9 Dec 2026`` for that of a day, else its whole time."""
    then = local(end, zone)
    if (then.hour, then.minute, then.second) != (0, 0, 0):
        return stamp(end, zone)
    return f"end of {day_words(local(Micros(end - 1), zone).date())}"


def day_words(day: date) -> str:
    """``25 Nov 2026``."""
    return f"{day.day} {day:%b %Y}"


def moment(at: Micros, now: Micros, zone: ZoneInfo) -> str:
    """``14:03``, with the day before it where that is not today's: ``Tue 25 Nov 14:03``."""
    then = local(at, zone)
    if then.date() == local(now, zone).date():
        return f"{then:%H:%M}"
    return f"{then:%a} {then.day} {then:%b %H:%M}"


def brief(at: Micros, now: Micros, zone: ZoneInfo) -> str:
    """``14:03`` today, ``Tue 14:03`` up to six days ago, before that the day alone: ``18 Nov``."""
    then, today = local(at, zone), local(now, zone).date()
    if then.date() == today:
        return f"{then:%H:%M}"
    if 0 < (today - then.date()).days <= _DAYS_BY_NAME:
        return f"{then:%a %H:%M}"
    return f"{then.day} {then:%b}"


def briefest(at: Micros, now: Micros, zone: ZoneInfo) -> str:
    """The same, with the day alone where it is not today's: ``Tue``."""
    return brief(at, now, zone).rpartition(" ")[0] if _is_named(at, now, zone) else brief(at, now, zone)


def _is_named(at: Micros, now: Micros, zone: ZoneInfo) -> bool:
    return 0 < (local(now, zone).date() - local(at, zone).date()).days <= _DAYS_BY_NAME


def until(end: Micros, now: Micros, zone: ZoneInfo) -> str:
    """The last moment before an end to come: ``9 Dec`` for the end of a day, else with the hour, ``9 Dec 14:03``."""
    then, today = local(end, zone), local(now, zone)
    is_whole_day = (then.hour, then.minute, then.second) == (0, 0, 0)
    last = local(Micros(end - 1), zone) if is_whole_day else then
    day = "" if last.date() == today.date() else f"{last.day} {last:%b}" + (last.year != today.year) * f" {last.year}"
    return (day or "midnight") if is_whole_day else f"{day} {then:%H:%M}".lstrip()


def running(seconds: float) -> str:
    """Minutes and seconds, ``09:10``; from 100 minutes on hours and minutes, ``1 h 40``. Never below zero."""
    whole = max(0, int(seconds))
    if whole < _LONGEST_IN_MINUTES:
        return f"{whole // _MINUTE:02}:{whole % _MINUTE:02}"
    return f"{whole // _HOUR} h {whole % _HOUR // _MINUTE:02}"


def remaining(until: Micros, now: Micros) -> str:
    """What is left, rounded up, so that zero is shown only when nothing is left."""
    return running(ceil((until - now) / SECOND))


def minutes(seconds: float) -> str:
    """A label's minutes: ``12 min``, ``7.5 min``."""
    return f"{seconds / _MINUTE:g} min"


def for_minutes(number: float) -> str:
    """A while as people say it: ``15 min``, ``1 h``, ``1 h 30``."""
    hours, left = divmod(round(number), 60)
    if hours == 0:
        return f"{left} min"
    return f"{hours} h {left:02}" if left else f"{hours} h"


def degrees(celsius: float | None) -> str:
    """A temperature to the tenth, ``21.4 °C``; rounded down, so that none looks warm enough that is not."""
    return NOT_KNOWN if celsius is None else f"{floor(round(celsius * 10, 6)) / 10:.1f} °C"


def hundredths(celsius: float) -> str:
    """A limit as exactly as the site file can mean it: ``20``, ``20.5``, ``20.25``; rounded up to the hundredth."""
    return f"{ceil(round(celsius * 100, 6)) / 100:g}"


def counted(number: int, what: str) -> str:
    """``1 basin``, ``2 basins``."""
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def listed(parts: list[str]) -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
