"""Random minutes of a basin, as measured: what the laws of soaks and of their shares are tried on."""

from hypothesis import strategies as st

from rules.events import SoakAmended, SoakEnded, SoakWithdrawn
from rules.readings import Micros, Reading
from rules.verdict import Verdict
from tests.rules.feeder import LID, LIFTED, TEMPERATURE, Feeder, department, read, seconds

SPEAKS_RARELY = {
    "sensor": [
        {"thing": "basin-1", "name": "temperature", "kind": "temperature", "uncertainty_celsius": 0},
        {"thing": "basin-1", "name": "lid", "kind": "lid", "report_seconds": 60},
    ],
    "thresholds": {"silent_reports": 20},
}
"""A basin whose lid may be silent for 20 min, longer than the histories below."""


CELSIUS = st.sampled_from([17.0, 19.0, 19.9, 20.0, 20.0, 20.1, 20.1, 20.5, 20.5, 21.0, 21.0])
"""On both sides of 20 Cel, and sometimes with a jump in between (from 17.0 to 20.1 or more, within 5 s)."""

WARM = st.sampled_from([20.1, 20.5, 21.0])
"""Warm enough throughout: what a soak lacks is then the lid's doing. In mixed histories alone that is a rare event."""

QUICK = department("quick", **SPEAKS_RARELY)
"""One minute at 20 Cel, under a lid that need not repeat itself."""


@st.composite
def measured(draw: st.DrawFn) -> list[Reading]:
    """Some minutes of a basin, as measured: temperatures at irregular times, with gaps; a lid closed and lifted."""
    gaps = draw(st.lists(st.sampled_from([5, 10, 10, 30, 30, 60, 61]), min_size=6, max_size=18))
    celsius = draw(st.sampled_from([CELSIUS, WARM]))
    at, readings = 0, []
    for gap in gaps:
        at += gap
        readings.append(read(TEMPERATURE, draw(celsius), at))
    changes = sorted(draw(st.sets(st.integers(1, at), min_size=2, max_size=6)))
    for n, change in enumerate(changes):
        readings.append(read(LID, n % 2 == 0, change + 0.25))
    if len(changes) % 2:
        readings.append(read(LID, LIFTED, at + 1.25))
    return sorted(readings, key=lambda r: r.measured)


def final(feeder: Feeder) -> list[tuple[Micros, Micros, Verdict]]:
    """Start, end and last verdict of every soak that was not withdrawn, by start."""
    soaks: dict[str, tuple[Micros, Micros, Verdict]] = {}
    for event in feeder.events:
        if isinstance(event, (SoakEnded, SoakAmended)):
            soaks[event.soak] = (event.start, event.end, event.verdict)
        elif isinstance(event, SoakWithdrawn):
            soaks.pop(event.soak, None)
    return sorted(soaks.values(), key=lambda soak: soak[0])


def settled(readings: list[Reading]) -> list[tuple[Micros, Micros, Verdict]]:
    return final(Feeder(QUICK).feed(readings).until(seconds(readings[-1].arrived) + 500))
