"""What the wall says of a cart: whether it rolls, and whether its cords hang on their hooks."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum

from dashboard.measure import name_size
from dashboard.words import NOT_KNOWN
from rules.picture import CartPicture


class Care(IntEnum):
    """How soon a cart needs a look; a lower number sooner."""

    ROLLS_CORD_OFF = 0
    ROLLS_NOT_KNOWN = 1
    CORD_OFF = 2
    UNKNOWN = 3
    ROLLS = 4
    STANDS = 5

    @property
    def word(self) -> str:
        """The care as a style name."""
        return self.name.lower().replace("_", "-")


TILE_PX, PEG_PX = 284, 43

_SUMMARY = {
    Care.ROLLS_CORD_OFF: "rolling, cord off hook",
    Care.ROLLS_NOT_KNOWN: f"rolling, cords {NOT_KNOWN}",
    Care.CORD_OFF: "standing, cord off hook",
    Care.UNKNOWN: NOT_KNOWN,
    Care.ROLLS: "rolling, all on hooks",
    Care.STANDS: "standing, all on hooks",
}


@dataclass(frozen=True, slots=True)
class CartView:
    """A cart as the wall shows it.

    size: how large the name can be written.
    pegs: 'on', 'off' or 'not-known' for each cord in its order.
    """

    name: str
    size: str
    care: Care
    motion: str
    cords: str
    pegs: tuple[str, ...]


def cart_view(cart: CartPicture, hearing: bool) -> CartView:  # noqa: FBT001 - one fact
    """What the wall shows of one cart; while the gateway hears no sensors nothing of it is known."""
    rolling = cart.rolling if hearing else None
    pegs = [cord.on_hook if hearing else None for cord in cart.cords]
    return CartView(
        name=cart.name,
        size=_size(cart.name, len(pegs)),
        care=_care(rolling, pegs),
        motion={True: "rolling", False: "standing", None: NOT_KNOWN}[rolling],
        cords=_cord_words(pegs),
        pegs=tuple({True: "on", False: "off", None: "not-known"}[peg] for peg in pegs),
    )


def _size(name: str, pegs: int) -> str:
    """On one line beside the pegs, else on two without them: the words tell the same."""
    beside = name_size(name, TILE_PX - PEG_PX * pegs)
    return beside if beside in {"key", "second"} else _size_without_pegs(name)


def _size_without_pegs(name: str) -> str:
    size = name_size(name, TILE_PX)
    return size if size == "minor" else "double"


def summary(carts: Sequence[CartView]) -> tuple[str, ...]:
    """Carts that have no place of their own, counted by care, most urgent first."""
    counts = Counter(cart.care for cart in carts)
    return tuple(f"{counts[care]} {_SUMMARY[care]}" for care in sorted(counts))


def _care(rolling: bool | None, pegs: Sequence[bool | None]) -> Care:  # noqa: FBT001 - a cart's three states
    if rolling and False in pegs:
        return Care.ROLLS_CORD_OFF
    if rolling and None in pegs:
        return Care.ROLLS_NOT_KNOWN
    if False in pegs:
        return Care.CORD_OFF
    if rolling is None or None in pegs:
        return Care.UNKNOWN
    return Care.ROLLS if rolling else Care.STANDS


def _cord_words(pegs: Sequence[bool | None]) -> str:
    if not pegs:
        return "no cords"
    off, unknown = pegs.count(False), pegs.count(None)
    if off:
        return f"{off} off, {unknown} ?" if unknown else f"{off} off hook"
    if unknown == len(pegs):
        return NOT_KNOWN
    return f"{unknown} {NOT_KNOWN}" if unknown else "all on hooks"
