"""Which alert tells of which basin or cart, so that both carry the same sign on the wall."""

from collections.abc import Container, Iterator, Sequence
from dataclasses import dataclass, replace

from dashboard.alert_standing import STANDING_WORDS, WORDS, Standing, by_urgency, is_urgent, standing
from rules.alert_words import Priority
from rules.board import SubjectKind
from rules.picture import AlertPicture, Picture, ProbePicture
from rules.probe_words import Place
from rules.soaks import basin_of

TIE_PX = 52.0
"""Width on the wall in px of a 1920x1080 panel that the sign takes from a name."""


@dataclass(frozen=True, slots=True)
class Tied:
    """The first alert about a thing.

    turn: its place among all alerts. priority, standing: style names of its sign; word: as on its own row.
    asks: whether it is urgent and nobody has answered for it. last_known: whether nothing is heard now.
    probes: ids of those that alerts about the thing tell of.
    """

    turn: int
    priority: Priority
    standing: Standing
    word: str
    asks: bool
    last_known: bool
    probes: frozenset[str] = frozenset()

    @property
    def leads(self) -> bool:
        """Whether it is the one that asks for somebody first: its thing is drawn as the loudest on the wall."""
        return self.turn == 0 and self.asks

    @property
    def place(self) -> int:
        """Its turn among things without a place; the last one where it does not ask for anybody."""
        return self.turn if self.asks else LAST


LAST = 10**6


def tied(
    alerts: Sequence[AlertPicture], picture: Picture, shown: Container[str], waits: Container[str] = ()
) -> dict[str, Tied]:
    """By the ids of basins and carts.

    A sensor's alert is tied to its thing, a soak's to its basin, a probe's to its cart and to the basin in which it is.
    A note is tied where it has a place of its own (``shown``): many carts may be due for a wipe-down at once.
    waits: ids of those that come behind their like, as on their own rows.
    """
    probes = {probe.id: probe for probe in picture.probes}
    found: dict[str, Tied] = {}
    for turn, alert in enumerate(by_urgency(alerts, waits)):
        stands = standing(alert)
        if stands is Standing.OVER or (alert.priority is Priority.LOW and alert.id not in shown):
            continue
        about = probes.get(alert.subject.partition(" ")[2])
        word = STANDING_WORDS.get(stands, WORDS[alert.priority])
        tie = Tied(
            turn,
            alert.priority,
            stands,
            word,
            asks=picture.hearing and is_urgent(stands, alert.priority),
            last_known=not picture.hearing,
        )
        for thing in [thing_of(alert.subject)] if about is None else _places(about):
            first = found.get(thing, tie)
            told = first.probes if about is None else first.probes | {about.id}
            found[thing] = replace(first, probes=told)
    return found


def thing_of(subject: str) -> str:
    """The id of the thing that an alert is about: of a sensor or a soak, of whose it is."""
    kind, _, name = subject.partition(" ")
    return basin_of(name) if kind == SubjectKind.SOAK else name.partition("/")[0]


def _places(probe: ProbePicture) -> Iterator[str]:
    yield probe.cart
    if probe.standing.place is Place.BASIN and probe.standing.thing is not None:
        yield probe.standing.thing
