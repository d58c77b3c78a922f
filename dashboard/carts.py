"""What the wall says of carts: whether they roll, and whether their cords hang on their hooks."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum, StrEnum

from dashboard.names import SECOND_PX, Name, written
from dashboard.readiness import NO_PROBES, CartProbes, count
from dashboard.rest import Count, kinds
from dashboard.words import NOT_KNOWN
from rules.picture import CarePicture, CartPicture, CordPicture

PLACES = 5
FLOOR_PX, GAP_PX = 1840, 25.6
TILE_PX = (FLOOR_PX - GAP_PX * (PLACES - 1)) / PLACES
REST_LINES = 2
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
    wheels: 'rolling', 'standing' or 'not-known'.
    probes: which of its probes may be used.
    """

    name: Name
    care: Care
    wheels: str
    motion: str
    cords: str
    pegs: tuple[str, ...]
    probes: CartProbes


@dataclass(frozen=True, slots=True)
class CartsView:
    """Carts in places, and those without one counted by urgency.

    more: how many have no place; rest: which they are; columns: how many places the words about them take.
    rows: how many rows of marks there are, 0 where the site does not follow its probes. ready: how many probes of the
        carts without a place may be used.
    """

    places: tuple[CartView, ...]
    more: int
    rest: str
    columns: int
    rows: int = 0
    ready: str = ""


def cart_view(cart: CartPicture, hearing: bool, probes: CartProbes = NO_PROBES) -> CartView:  # noqa: FBT001 - one fact
    """What the wall shows of one cart; while the gateway hears no sensors nothing of it is known."""
    rolling = cart.rolling if hearing else None
    pegs = [_peg(cord) if hearing else Peg.NOT_KNOWN for cord in cart.cords]
    return CartView(
        name=written(cart.name, TILE_PX),
        care=_care(rolling, pegs),
        wheels={True: "rolling", False: "standing", None: "not-known"}[rolling],
        motion={True: "cart rolls", False: "cart stands", None: f"cart {NOT_KNOWN}"}[rolling],
        cords=(_is_calm(pegs) and _asked(cart.care)) or _cord_words(pegs),
        pegs=tuple(peg.value for peg in pegs) if len(pegs) <= MOST_PEGS else (),
        probes=probes,
    )


def carts_view(shown: Sequence[CartView], rows: int = 0) -> CartsView:
    """All carts in the site's order where they fit; else those that need a look before the others, the rest counted.

    rows: how many rows of marks there is room for.
    """
    if len(shown) <= PLACES:
        return CartsView(tuple(shown), 0, "", 0, rows)
    ranked = sorted(range(len(shown)), key=lambda n: (min(shown[n].care, Care.CORD_OFF), not shown[n].probes.waits))
    for columns in range(1, PLACES):
        left = [shown[n] for n in ranked[PLACES - columns :]]
        width = TILE_PX * columns + GAP_PX * (columns - 1)
        rest = kinds(summary(left), width / SECOND_PX, REST_LINES)
        if not rest.endswith("others"):
            break
    places = tuple(shown[n] for n in sorted(ranked[: PLACES - columns]))
    return CartsView(places, len(left), rest, columns, rows, _ready(left, width) if rows else "")


def _ready(carts: Sequence[CartView], width_px: float) -> str:
    ready, of = sum(cart.probes.ready for cart in carts), sum(cart.probes.of for cart in carts)
    return count(ready, of, width_px, "probes")


def summary(carts: Sequence[CartView]) -> list[Count]:
    """Carts that have no place of their own, counted by care, most urgent first."""
    counts = Counter(cart.care for cart in carts)
    return [Count(counts[care], _SUMMARY[care]) for care in sorted(counts)]


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
