"""What the wall says of probes: which may be used, beside the cart on which they hang, and which soak in a basin."""

from collections.abc import Container, Sequence
from dataclasses import dataclass

from dashboard import fitness
from dashboard.measure import PLAIN, shortened
from dashboard.names import SECOND_PX
from dashboard.words import counted
from rules.picture import BasinPicture, EndedSoak, Picture, ProbePicture
from rules.probe_words import Fitness, Place

ROW_PX = 46
"""Height of a row of marks in wall.css."""

MARK_PX = 40
"""Width of a mark, and what stands around it."""

MOST_ROWS = 4
NO_TAG = "probe not known"
"""Said of a soak of which nobody knows the probe."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A row beside a cart's cords; style: of its mark, '' where there is none."""

    style: str
    words: str


@dataclass(frozen=True, slots=True)
class CartProbes:
    """The probes of a cart; marks: as rows. ready, of: how many may be used, and how many there are.

    worst: how the one stands that needs somebody soonest, None where the cart has none that is followed. stands: how
    each of them stands; unheard: how many were ready when they were last heard.
    owed: what is to be done with those that owe something, where it is the same for all of them.
    """

    marks: tuple[Mark, ...] = ()
    ready: int = 0
    of: int = 0
    worst: Fitness | None = None
    stands: tuple[Fitness, ...] = ()
    unheard: int = 0
    owed: str = ""

    @property
    def waits(self) -> bool:
        """Whether one of them waits for somebody."""
        return self.worst in fitness.WAITS


NO_PROBES = CartProbes()


def ready_line(picture: Picture) -> str:
    """``20 of 24 probes ready``; '' where the site follows none, or while none is known."""
    if not picture.probes or not picture.hearing:
        return ""
    return f"{_ready(picture.probes)} of {len(picture.probes)} probes ready"


def wanted_rows(probes: Sequence[ProbePicture], *, hearing: bool) -> int:
    """How many rows the marks of a cart's probes would like to have."""
    waiting = sum(probe.standing.fitness in fitness.WAITS for probe in probes) if hearing else 0
    return min(MOST_ROWS, 1 + waiting)


def cart_probes(
    probes: Sequence[ProbePicture], rows: int, width_px: float, *, hearing: bool, told_of: Container[str] = ()
) -> CartProbes:
    """Those of a cart's probes that are not ready, the most urgent first, and how many are.

    Args:
        probes: of the cart.
        rows: for how many there is room. With too few, the count tells that there are more.
        width_px: of a row.
        hearing: whether the gateway hears the sensors; if not, no probe is known to be ready.
        told_of: ids of those that an alert tells of, which are named before all others.
    """
    ready = _ready(probes) if hearing else 0
    stands = tuple(_stands(probe) if hearing else Fitness.NOT_PROVEN for probe in probes)
    unheard = sum(map(fitness.was_ready, probes)) if hearing else len(probes)
    worst = min(stands, key=fitness.URGENCY.index, default=None)
    owed = {fitness.in_short(probe.standing) for probe in probes if probe.standing.fitness is Fitness.OWES}
    marks = _marks(probes, rows, width_px, told_of, hearing=hearing)
    return CartProbes(marks, ready, len(probes), worst, stands, unheard, owed.pop() if len(owed) == 1 else "")


def _marks(
    probes: Sequence[ProbePicture], rows: int, width_px: float, told_of: Container[str], *, hearing: bool
) -> tuple[Mark, ...]:
    if not probes or not rows:
        return ()
    if not hearing or all(map(fitness.was_ready, probes)):
        return (Mark(fitness.style(Fitness.NOT_PROVEN), fitness.NOT_CONFIRMED),)
    ready = _ready(probes)
    if ready == len(probes):
        whole = f"{counted(ready, 'probe')} ready"
        fits = PLAIN.ems(whole) * SECOND_PX + MARK_PX <= width_px
        return (Mark(fitness.style(Fitness.READY), whole if fits else f"{ready} ready"),)
    others = sorted(
        (probe for probe in probes if not fitness.is_ready(probe)),
        key=lambda probe: (probe.id not in told_of, fitness.URGENCY.index(probe.standing.fitness)),
    )
    if rows == 1 and (within_reach := [probe for probe in others if probe.id in told_of or _hangs(probe)]):
        return (_only_mark(within_reach, width_px),)
    shown = tuple(_mark(probe, width_px) for probe in others[: rows - 1])
    # A sign beside the count would stand without its word.
    return *shown, Mark("", f"{ready} of {len(probes)} ready")


def _hangs(probe: ProbePicture) -> bool:
    """Whether somebody at the cart could take it for the next patient."""
    return probe.standing.place is Place.HOOK


def _only_mark(probes: Sequence[ProbePicture], width_px: float) -> Mark:
    """Of those that must not be used though they hang there, where one row is all there is."""
    if len(probes) == 1:
        return _mark(probes[0], width_px)
    return Mark(_style(probes[0]), f"{len(probes)} not ready")


def _mark(probe: ProbePicture, width_px: float) -> Mark:
    """By the name of its cord; where that has no room only that there is one."""
    room = (width_px - MARK_PX) / SECOND_PX
    words = fitness.beside_cart(probe.cord, probe)
    if PLAIN.ems(words) > room:
        short = fitness.UNHEARD if fitness.was_ready(probe) else fitness.in_short(probe.standing)
        words = f"1 {short}"
    return Mark(_style(probe), words)


def _style(probe: ProbePicture) -> str:
    return fitness.style(_stands(probe))


def _stands(probe: ProbePicture) -> Fitness:
    """One that is not confirmed is not proven."""
    return Fitness.NOT_PROVEN if fitness.was_ready(probe) else probe.standing.fitness


def _ready(probes: Sequence[ProbePicture]) -> int:
    return sum(map(fitness.is_ready, probes))


def inside(basin: BasinPicture, picture: Picture) -> tuple[str, ...]:
    """The probes of the soak that a basin tells of, by name; that nobody knows which; else nothing.

    A probe that came into the basin after a soak ended is not named beside that soak's verdict.
    """
    if not picture.probes:
        return ()
    if basin.soak is not None:
        return tuple(probe.name for probe in picture.probes if _is_in(probe, basin)) or (NO_TAG,)
    if not basin.ended:
        return tuple(probe.name for probe in picture.probes if _is_in(probe, basin))
    last = basin.ended[0]
    names = tuple(probe.name for probe in picture.probes if _was_of(probe, last, basin))
    return names or ((NO_TAG,) if last.id in {soak.soak for soak in picture.unclaimed} else ())


def _is_in(probe: ProbePicture, basin: BasinPicture) -> bool:
    return probe.standing.place is Place.BASIN and probe.standing.thing == basin.id


def _was_of(probe: ProbePicture, soak: EndedSoak, basin: BasinPicture) -> bool:
    """Whether a soak that ended is known to be this probe's: it was done by it, or is in the basin since before."""
    since = probe.standing.since
    return probe.standing.soak == soak.id or (_is_in(probe, basin) and since is not None and since < soak.end)


def inside_row(names: Sequence[str], width_px: float) -> str:
    """The probes in a basin in one row: all by name, else the first and how many more."""
    width_ems = width_px / SECOND_PX
    whole = ", ".join(names)
    if len(names) <= 1 or PLAIN.ems(whole) <= width_ems:
        return shortened(whole, width_ems, 1, PLAIN)
    more = f" +{len(names) - 1}"
    return shortened(names[0], width_ems - PLAIN.ems(more), 1, PLAIN) + more
