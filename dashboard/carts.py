"""What the wall says of carts: whether they roll, and whether their cords hang on their hooks."""

from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from enum import IntEnum, StrEnum

from dashboard.fitness import URGENCY
from dashboard.measure import PLAIN
from dashboard.names import KEY_PX, SECOND_PX, Name, written
from dashboard.panel import LYING, Panel
from dashboard.readiness import NO_PROBES, CartProbes, count
from dashboard.rest import Count, kinds
from dashboard.words import NOT_KNOWN
from rules.picture import CarePicture, CartPicture, CordPicture
from rules.probe_words import Fitness

REST_LINES = 2
WHEELS_PX, PEG_PX, PEGS_GAP_PX = 59.2, 32.0, 5.6
"""Widths on the wall in px of a 1920x1080 panel: of the wheels and of each peg, with what stands beside them."""

MOST_PEGS = 3
"""So many pegs stand beside the words; the words tell the same, or what is due where every cord hangs."""


class Care(IntEnum):
    """How soon a cart needs a look; a lower number sooner. A cord off its hook while the cart stands is in use."""

    ROLLS_CORD_OFF = 0
    ROLLS_NOT_KNOWN = 1
    UNKNOWN = 2
    CORD_OFF = 3
    ROLLS = 4
    STANDS = 5

    @property
    def word(self) -> str:
        """The care as a style name."""
        return self.name.lower().replace("_", "-")


class Peg(StrEnum):
    """How a cord is; away: its probe was taken to a sink, a basin or a cabinet."""

    ON = "on"
    OFF = "off"
    AWAY = "away"
    NOT_KNOWN = "not-known"


NEEDS_A_LOOK = frozenset({Care.ROLLS_CORD_OFF, Care.ROLLS_NOT_KNOWN})
"""Carts that somebody should look at, whether or not an alert says so."""

_SUMMARY = {
    Care.ROLLS_CORD_OFF: "rolling with a cord off",
    Care.ROLLS_NOT_KNOWN: f"rolling with cords {NOT_KNOWN}",
    Care.UNKNOWN: NOT_KNOWN,
    Care.CORD_OFF: "standing with a cord off",
    Care.ROLLS: "rolling",
    Care.STANDS: "standing",
}


@dataclass(frozen=True, slots=True)
class CartView:
    """A cart as the wall shows it.

    motion, cords: in words; where every cord hangs, what the cart's care asks for takes their place.
    pegs: 'on', 'off', 'away' or 'not-known' for each cord in its order, empty where they are many.
    wheels: 'rolling' or 'standing', '' where that is not known: the words need the room.
    probes: which of its probes may be used.
    told_of: whether an alert that has its place on the wall, and waits for somebody, tells of it.
    """

    name: Name
    care: Care
    wheels: str
    motion: str
    cords: str
    pegs: tuple[str, ...]
    probes: CartProbes
    told_of: bool = False


@dataclass(frozen=True, slots=True)
class CartsView:
    """Carts in places, and those without one counted by urgency.

    more: how many have no place; rest: which they are; columns: how many places the words about them take.
    rows: how many rows of marks there are, 0 where the site does not follow its probes. ready: how many probes of the
        carts without a place may be used. small: whether names are written smaller.
    """

    places: tuple[CartView, ...]
    more: int
    rest: str
    columns: int
    rows: int = 0
    ready: str = ""
    small: bool = False


def cart_view(
    cart: CartPicture,
    hearing: bool,  # noqa: FBT001 - one fact
    probes: CartProbes = NO_PROBES,
    width_px: float = LYING.tile_px,
    largest_px: float = KEY_PX,
) -> CartView:
    """What the wall shows of one cart; while the gateway hears no sensors nothing of it is known.

    probes, width_px, largest_px: what is said of its probes, the width of its place, and the largest size of its name.
    """
    rolling = cart.rolling if hearing else None
    pegs = [_peg(cord) if hearing else Peg.NOT_KNOWN for cord in cart.cords]
    words = (_is_calm(pegs) and _asked(cart.care)) or _cord_words(pegs)
    return CartView(
        name=written(cart.name, width_px, largest_px=largest_px, minor_rows=2 if largest_px == KEY_PX else 1),
        care=_care(rolling, pegs),
        wheels={True: "rolling", False: "standing", None: ""}[rolling],
        motion=_motion(rolling, width_px),
        cords=words,
        pegs=tuple(peg.value for peg in pegs) if _has_pegs(pegs, words, width_px) else (),
        probes=probes,
    )


def _motion(rolling: bool | None, width_px: float) -> str:  # noqa: FBT001 - a cart's three states
    if rolling is not None:
        return "cart rolls" if rolling else "cart stands"
    whole = f"motion {NOT_KNOWN}"
    return whole if PLAIN.ems(whole) * SECOND_PX <= width_px else "motion ?"


def _has_pegs(pegs: Sequence[Peg], words: str, width_px: float) -> bool:
    return len(pegs) <= MOST_PEGS and len(pegs) * PEG_PX + PEGS_GAP_PX + PLAIN.ems(words) * SECOND_PX <= width_px


def carts_view(shown: Sequence[CartView], rows: int = 0, panel: Panel = LYING, tile_rows: int = 1) -> CartsView:
    """All carts in the site's order where they fit; else those that need a look before the others, the rest counted.

    rows: how many rows of marks there is room for; tile_rows: how many rows of carts.
    """
    places = panel.cart_columns * tile_rows
    if len(shown) <= places:
        return CartsView(tuple(shown), 0, "", 0, rows)
    ranked = sorted(range(len(shown)), key=lambda n: _turn(shown[n]))
    for columns in range(1, panel.cart_columns + (tile_rows > 1)):
        left = [shown[n] for n in ranked[places - columns :]]
        width = panel.across(columns)
        rest = kinds(summary(left), width / SECOND_PX, REST_LINES)
        if not rest.endswith("others"):
            break
    kept = tuple(shown[n] for n in sorted(ranked[: places - columns]))
    return CartsView(kept, len(left), rest, columns, rows, _ready(left, width) if rows else "")


def _turn(cart: CartView) -> tuple[bool, int, int]:
    """What an alert on the same screen tells of comes first, a cart to be looked at before one with a probe that waits.

    A cord off where the cart stands is in use.
    """
    waits = URGENCY.index(cart.probes.worst) if cart.probes.waits and cart.probes.worst else len(URGENCY)
    return not cart.told_of, min(cart.care, Care.CORD_OFF), waits


def _ready(carts: Sequence[CartView], width_px: float) -> str:
    """Nothing where each cart is called ready already."""
    ready, of = sum(cart.probes.ready for cart in carts), sum(cart.probes.of for cart in carts)
    if ready == of and {cart.care for cart in carts}.isdisjoint(NEEDS_A_LOOK):
        return ""
    return count(ready, of, width_px, "probes")


def summary(carts: Sequence[CartView]) -> list[Count]:
    """Carts that have no place of their own, counted by what they need, most urgent first.

    Where probes are followed a cart that nobody need look at is counted by its probe that needs somebody soonest.
    """
    counts = Counter(map(_kind, carts))
    owed = {cart.probes.owed for cart in carts if cart.probes.worst is Fitness.OWES}
    return [Count(counts[kind], _kind_words(*kind, owed)) for kind in sorted(counts)]


def _kind(cart: CartView) -> tuple[int, int]:
    """Its care, unless its probes tell more; then by which probe."""
    worst = cart.probes.worst
    if worst is None or cart.care in NEEDS_A_LOOK:
        return cart.care, 0
    return Care.UNKNOWN, 1 + URGENCY.index(worst)


def _kind_words(care: int, by_probe: int, owed: Collection[str]) -> str:
    """owed: what is to be done with the probes of carts that are counted by what these owe."""
    if not by_probe:
        return _SUMMARY[Care(care)]
    worst = URGENCY[by_probe - 1]
    same = next(iter(owed)) if worst is Fitness.OWES and len(owed) == 1 else ""
    return same or _PROBES_SUMMARY[worst]


_PROBES_SUMMARY = {
    Fitness.NOT_PROVEN: "not proven",
    Fitness.INSPECT: "to inspect",
    Fitness.OWES: "owing",
    Fitness.IN_PROCESS: "begun",
    Fitness.IN_USE: "in use",
    Fitness.READY: "ready",
}


def _peg(cord: CordPicture) -> Peg:
    if cord.on_hook is None:
        return Peg.NOT_KNOWN
    if cord.on_hook:
        return Peg.ON
    return Peg.AWAY if cord.away else Peg.OFF


def _care(rolling: bool | None, pegs: Sequence[Peg]) -> Care:  # noqa: FBT001 - a cart's three states
    if rolling and Peg.OFF in pegs:
        return Care.ROLLS_CORD_OFF
    if rolling and Peg.NOT_KNOWN in pegs:
        return Care.ROLLS_NOT_KNOWN
    if rolling is None or Peg.NOT_KNOWN in pegs:
        return Care.UNKNOWN
    if Peg.OFF in pegs:
        return Care.CORD_OFF
    return Care.ROLLS if rolling else Care.STANDS


def _asked(care: CarePicture) -> str:
    if care.wipe_due_since is not None:
        return "wipe due"
    return "gel is old" if care.gel is not None and care.gel.out_of_date else ""


def _is_calm(pegs: Sequence[Peg]) -> bool:
    """Whether the pegs alone say enough: every cord hangs, and each has its peg on the wall."""
    return len(pegs) <= MOST_PEGS and all(peg is Peg.ON for peg in pegs)


def _cord_words(pegs: Sequence[Peg]) -> str:
    if not pegs:
        return "no cords"
    off, unknown, away = (pegs.count(peg) for peg in (Peg.OFF, Peg.NOT_KNOWN, Peg.AWAY))
    if off:
        return f"{off} off, {unknown} ?" if unknown else f"{off} off hook"
    if unknown == len(pegs):
        return NOT_KNOWN
    if unknown:
        return f"{unknown} {NOT_KNOWN}"
    return f"{away} away" if away else "all hung"
