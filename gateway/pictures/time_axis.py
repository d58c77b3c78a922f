"""Times of day along a drawing, as the clocks of the site show them."""

from zoneinfo import ZoneInfo

from matplotlib.axes import Axes
from matplotlib.ticker import FixedLocator, FuncFormatter

from gateway.pictures.size import Size
from gateway.typeface import ems
from gateway.when import local
from rules.readings import SECOND, Micros

_QUARTER = 15 * 60 * SECOND
_MINUTE = 60 * SECOND
_STEPS_MINUTES = (1, 2, 5, 10, 15, 30, 60, 120, 180, 240, 360, 720, 1440)


def minutes_since(at: Micros, since: Micros) -> float:
    """Where an instant is along a time axis."""
    return (at - since) / _MINUTE


def time_axis(axes: Axes, since: Micros, until: Micros, zone: ZoneInfo, size: Size) -> None:
    """Along: minutes since ``since``, named by the time of day, at steps that have room."""
    most = max(2, int(size.width / size.em / (ems("00:00") * 1.9)))
    length = minutes_since(until, since)
    step = next((step for step in _STEPS_MINUTES if length / step <= most), _STEPS_MINUTES[-1])
    grain = _MINUTE if step < _QUARTER / _MINUTE else _QUARTER
    first = since + -since % grain
    at = [Micros(tick) for tick in range(first, until + 1, grain) if _is_round(Micros(tick), step, zone)]
    axes.set_xlim(0, length)
    axes.xaxis.set_major_locator(FixedLocator([minutes_since(tick, since) for tick in at]))
    axes.xaxis.set_major_formatter(FuncFormatter(lambda minutes, _: _hour(minutes, since, zone)))


def _is_round(at: Micros, step_minutes: int, zone: ZoneInfo) -> bool:
    then = local(at, zone)
    return (then.hour * 60 + then.minute) % step_minutes == 0


def _hour(minutes: float, since: Micros, zone: ZoneInfo) -> str:
    return f"{local(Micros(since + round(minutes * _MINUTE)), zone):%H:%M}"
