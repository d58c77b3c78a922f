"""What the wall says of carts: whether they roll, and whether their cords hang on their hooks."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import IntEnum, StrEnum

from dashboard.fitness import NOT_CONFIRMED, UNHEARD, URGENCY
from dashboard.measure import PLAIN, lines, shortened
from dashboard.names import KEY_PX, SECOND_PX, Name, written
from dashboard.panel import LYING, Panel
from dashboard.readiness import NO_PROBES, CartProbes
from dashboard.rest import Count, kinds
from dashboard.tied import LAST, TIE_PX, Tied
from dashboard.words import NOT_KNOWN, counted
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
    Care.ROLLS_CORD_OFF: "rolling, cord off",
    Care.ROLLS_NOT_KNOWN: f"rolling, cords {NOT_KNOWN}",
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
    tied: the alert that tells of it.
    """

    name: Name
    care: Care
    wheels: str
    motion: str
    cords: str
    pegs: tuple[str, ...]
    probes: CartProbes
    tied: Tied | None = None


@dataclass(frozen=True, slots=True)
class CartsView:
    """Carts in places, and those without one counted by urgency.

    more: how many have no place; rest: what of them; probes: how their probes stand, where these are followed.
    columns: how many places the words about them take. rows: how many rows of marks there are, 0 where the site does
        not follow its probes. small: whether names are written smaller.
    """

    places: tuple[CartView, ...]
    more: int
    rest: str
    probes: str
    columns: int
    rows: int = 0
    small: bool = False


def cart_view(
    cart: CartPicture,
    hearing: bool,  # noqa: FBT001 - one fact
    probes: CartProbes = NO_PROBES,
    width_px: float = LYING.tile_px,
    largest_px: float = KEY_PX,
    tied: Tied | None = None,
) -> CartView:
    """What the wall shows of one cart; while the gateway hears no sensors nothing of it is known.

    probes, width_px, largest_px: what is said of its probes, the width of its place, and the largest size of its name.
    tied: the alert that tells of it.
    """
    rolling = cart.rolling if hearing else None
    pegs = [_peg(cord) if hearing else Peg.NOT_KNOWN for cord in cart.cords]
    name_px = width_px - (TIE_PX if tied else 0)
    words = (_is_calm(pegs) and _asked(cart.care)) or _cord_words(pegs)
    return CartView(
        name=written(cart.name, name_px, largest_px=largest_px, minor_rows=2 if largest_px == KEY_PX else 1),
        care=_care(rolling, pegs),
        wheels={True: "rolling", False: "standing", None: ""}[rolling],
        motion=_motion(rolling, width_px),
        cords=words,
        pegs=tuple(peg.value for peg in pegs) if _has_pegs(pegs, words, width_px) else (),
        probes=probes,
        tied=tied,
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

    Those come first of which urgent alerts tell that nobody has answered. rows: how many rows of marks there is room
    for; tile_rows: how many rows of carts.
    """
    places = panel.cart_columns * tile_rows
    if len(shown) <= places:
        return CartsView(tuple(shown), 0, "", "", 0, rows)
    ranked = sorted(range(len(shown)), key=lambda n: _turn(shown[n]))
    called = sum(_place(cart) < LAST for cart in shown)
    looked_at = sum(_place(cart) < LAST or cart.care in NEEDS_A_LOOK for cart in shown)
    for columns in range(1, panel.cart_columns + (tile_rows > 1)):
        left = [shown[n] for n in ranked[places - columns :]]
        rest, probes, is_whole = _left_out(left, panel.across(columns), rows)
        wanted = max(1, looked_at if columns > 1 else called)
        if is_whole or places - columns <= wanted:
            break
    kept = sorted(ranked[: places - columns], key=lambda n: (_place(shown[n]), n))
    return CartsView(tuple(shown[n] for n in kept), len(left), rest, probes, columns, rows)


def _place(cart: CartView) -> int:
    return cart.tied.place if cart.tied else LAST


def _turn(cart: CartView) -> tuple[int, int, int, int]:
    """A cart to be looked at before one of which an answered alert tells, and that before one with a probe not ready.

    A cord off where the cart stands is in use.
    """
    worst = URGENCY.index(cart.probes.worst) if cart.probes.worst else len(URGENCY)
    told_of = cart.tied.turn if cart.tied else LAST
    return _place(cart), min(cart.care, Care.CORD_OFF), told_of, worst


def _left_out(carts: Sequence[CartView], width_px: float, rows: int) -> tuple[str, str, bool]:
    """What is said of carts without a place, and of their probes; and whether no kind of them goes without its name."""
    width = width_px / SECOND_PX
    counts = summary(carts)
    rest = kinds(_with_the_first(counts, carts), width, "cart", REST_LINES) or kinds(counts, width, "cart", REST_LINES)
    if not any(cart.probes.of for cart in carts) and len(counts) == 1:
        rest = f"all {counts[0].words}" if counts[0].number > 1 else counts[0].words
    tells_all = "other" not in rest and (rest != "" or not counts)
    if not rows:
        return rest, "", tells_all
    ready, more = _ready(carts), _probe_counts(carts)
    most_lines = REST_LINES + rows - (lines(rest, width, PLAIN) if rest else 0)
    whole = kinds(more, width, "probe", most_lines, f"{ready[0]}, ") if more and ready else ""
    said = (words for words in ready if lines(words, width, PLAIN) <= most_lines)
    probes = whole or next(said, "")
    return rest, probes, tells_all and "other" not in probes and (not more or more[-1].words in probes)


def _ready(carts: Sequence[CartView]) -> tuple[str, ...]:
    """How many may be used, the fullest words first."""
    ready, of = sum(cart.probes.ready for cart in carts), sum(cart.probes.of for cart in carts)
    if of == sum(cart.probes.unheard for cart in carts):
        return (f"{counted(of, 'probe')} {NOT_CONFIRMED}", NOT_CONFIRMED)
    if ready == of:
        return (f"{counted(of, 'probe')} ready", "all ready")
    return (f"{ready} of {of} probes ready", f"{ready} of {of} ready", f"{ready}/{of} ready")


def _probe_counts(carts: Sequence[CartView]) -> list[Count]:
    """How the probes stand that are not ready, the most urgent first."""
    stands = Counter(stand for cart in carts for stand in cart.probes.stands)
    unheard = sum(cart.probes.unheard for cart in carts)
    if unheard == stands.total():
        return []
    stands[Fitness.NOT_PROVEN] -= unheard
    owed = {cart.probes.owed for cart in carts if Fitness.OWES in cart.probes.stands}
    words = {**_PROBES_SUMMARY, Fitness.OWES: (owed.pop() if len(owed) == 1 else "") or _PROBES_SUMMARY[Fitness.OWES]}
    counts = [Count(stands[fitness], words[fitness]) for fitness in URGENCY if fitness is not Fitness.READY]
    return [count for count in (*counts, Count(unheard, NOT_CONFIRMED)) if count.number]


def summary(carts: Sequence[CartView]) -> list[Count]:
    """Carts that have no place of their own, counted by what they need, most urgent first.

    Where their probes are followed only those that somebody should look at: of the others the probes tell more.
    """
    followed = any(cart.probes.of for cart in carts)
    counts = Counter(cart.care for cart in carts if not followed or cart.care in NEEDS_A_LOOK)
    return [Count(counts[care], _SUMMARY[care]) for care in sorted(counts)]


def _with_the_first(counts: Sequence[Count], carts: Sequence[CartView]) -> list[Count]:
    """The same with the name of the cart that needs a look before all others, where one does."""
    first = min(carts, key=lambda cart: cart.care, default=None)
    if first is None or first.care not in NEEDS_A_LOOK or not counts:
        return list(counts)
    which = shortened(first.name.text, _NAMED_EMS, 1, PLAIN)
    more = " first" if counts[0].number > 1 else ""
    return [replace(counts[0], words=f"{counts[0].words} ({which}{more})"), *counts[1:]]


_NAMED_EMS = 6.0

_PROBES_SUMMARY = {
    Fitness.NOT_PROVEN: "in doubt",
    Fitness.INSPECT: "to check",
    Fitness.OWES: "to reprocess",
    Fitness.IN_PROCESS: "not done",
    Fitness.IN_USE: "in use",
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
        return "wipe down"
    return "new gel" if care.gel is not None and care.gel.out_of_date else ""


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
        return f"{unknown} {UNHEARD}"
    return f"{away} away" if away else "all hung"
