"""How a probe stands, in words and as a style; the same on every screen."""

from collections import Counter
from collections.abc import Iterable, Sequence
from urllib.parse import quote
from zoneinfo import ZoneInfo

from dashboard.premises import Named, Premises
from dashboard.words import moment
from rules.owing import UNMARKED
from rules.picture import Picture, ProbePicture
from rules.probe_words import Fitness, Level, Place, Step, Surface
from rules.readings import Micros
from rules.standing import Standing

SURFACES = {
    Surface.SKIN: "intact skin",
    Surface.MUCOSA: "mucosa",
    Surface.BLOOD: "blood or body fluid",
    Surface.STERILE: "sterile tissue",
}
COVERS = {True: "with a cover", False: "without a cover", None: "cover not told"}

# Beside the name of a cord in the fifth of the wall that a cart has.
IN_SHORT = {
    Fitness.READY: "ready",
    Fitness.IN_USE: "in use",
    Fitness.OWES: "owes",
    Fitness.IN_PROCESS: "not done",
    Fitness.NOT_PROVEN: "in doubt",
    Fitness.INSPECT: "to check",
}
_SOAKS = "soaks"
_ORDERS = {
    Level.CLEANING: "clean",
    Level.LOW: "wipe",
    Level.HIGH: "soak",
    Level.STERILISATION: "sterilise",
}
_OWED_IN_SHORT = {
    Level.CLEANING: "to clean",
    Level.LOW: "to wipe",
    Level.HIGH: "to soak",
    Level.STERILISATION: "to sterilise",
}
URGENCY = (
    Fitness.NOT_PROVEN,
    Fitness.INSPECT,
    Fitness.OWES,
    Fitness.IN_PROCESS,
    Fitness.IN_USE,
    Fitness.READY,
)
"""Which probe needs a person soonest, the first."""

WAITS = frozenset({Fitness.NOT_PROVEN, Fitness.INSPECT, Fitness.OWES})
"""Probes that wait for somebody to do something."""

NOT_CONFIRMED = "not confirmed"
"""Said of every probe while no sensor is heard: it may have been used since."""

UNHEARD = "no signal"
"""Said beside the name of a cord whose probe was ready when its sensor was last heard."""

LAST_HEARD = f"{Fitness.READY.value} when last heard; not confirmed now"

_NEXT = {
    Step.COVER_OFF: "take off cover and gel",
    Step.WASHED: "wash it",
    Step.DRIED: "dry it",
    Step.LOW_LEVEL: "wipe it with low-level disinfectant",
    Step.SOAKED: "soak it for high-level disinfection",
    Step.RINSED: "rinse it",
    Step.STERILISED: "have it sterilised",
}


def in_short(standing: Standing) -> str:
    """How a probe stands beside the name of its cord: of one that owes, what is to be done."""
    if standing.fitness is Fitness.OWES and standing.owes is not None:
        return _OWED_IN_SHORT[standing.owes]
    return IN_SHORT[standing.fitness]


def beside_cart(cord: str, probe: ProbePicture) -> str:
    """How the probe of a cord stands, or what is to be done with it: ``soak curved``, ``linear in use``."""
    standing = probe.standing
    if was_ready(probe):
        return f"{cord} {UNHEARD}"
    if standing.fitness is Fitness.OWES and standing.owes is not None:
        return f"{_ORDERS[standing.owes]} {cord}"
    if standing.fitness is Fitness.INSPECT:
        return f"check {cord}"
    if standing.fitness is Fitness.IN_PROCESS and standing.place is Place.BASIN:
        return f"{cord} {_SOAKS}"
    return f"{cord} {IN_SHORT[standing.fitness]}"


def to_do_with(name: str, standing: Standing) -> str:
    """What to do with a probe that waits for somebody, as an order."""
    if standing.fitness is Fitness.INSPECT:
        return f"check {name} for damage"
    if standing.fitness is Fitness.OWES and standing.owes is not None:
        return standing.owes.deed.replace(" it", f" {name}")
    return f"do not use {name}: {_anew(standing)}"


def _anew(standing: Standing) -> str:
    """How a probe of which nobody can tell is made ready, as far as what it owes is known."""
    if standing.held is not None:
        return "soak it again"
    if standing.owes is None:
        return "reprocess it"
    washed = standing.next_step is not None and standing.next_step not in (Step.COVER_OFF, Step.WASHED)
    return f"{'' if washed or standing.owes is Level.CLEANING else 'wash it and '}{standing.owes.deed}"


def is_ready(probe: ProbePicture) -> bool:
    """Whether it may be used by all that is known of now."""
    return probe.standing.fitness is Fitness.READY and probe.confirmed


def was_ready(probe: ProbePicture) -> bool:
    """Whether it was ready when it was last heard of, and may have been used since."""
    return probe.standing.fitness is Fitness.READY and not probe.confirmed


def style(fitness: Fitness) -> str:
    """The fitness as a style name, which is also that of its mark."""
    return fitness.name.lower().replace("_", "-")


def place_words(place: Place, thing: str | None, picture: Picture, premises: Premises) -> str:
    """Where a probe is: ``on its hook at Cart 1``; thing: id of the cart, sink, basin or cabinet, where it is told."""
    name = _name(thing, picture, premises)
    match place:
        case Place.HOOK:
            return f"on its hook at {name}" if name else "on its hook"
        case Place.IN_HANDS:
            return "in somebody's hands"
        case Place.SINK:
            return f"at the sink, {name}" if name else "at the sink"
        case Place.BASIN:
            return f"in {name}" if name else "in a basin"
        case Place.CABINET:
            return f"in {name}" if name else "in a cabinet"
        case Place.UNKNOWN:
            return "place not known"


def heard_words(probe: ProbePicture, picture: Picture, premises: Premises, now: Micros, zone: ZoneInfo) -> str:
    """What a sensor that is heard says of where it is now, as a sentence without its stop; '' where none says it."""
    standing = probe.standing
    if not probe.sensed:
        return ""
    since = "" if standing.since is None else f", since {moment(standing.since, now, zone)}"
    where = place_words(standing.place, standing.thing, picture, premises)
    if standing.place is Place.HOOK:
        where = f"that it hangs {where.removeprefix('on its hook ')}"
        return f"Its hook says {where}{since}"
    return f"Its tag is read {where}{since}"


def _name(thing: str | None, picture: Picture, premises: Premises) -> str:
    places: tuple[Iterable[Named], ...] = (
        premises.sinks,
        premises.cabinets,
        (Named(basin.id, basin.name) for basin in picture.basins),
        (Named(cart.id, cart.name) for cart in picture.carts),
    )
    return next((place.name for group in places for place in group if place.id == thing), thing or "")


def owes_words(level: Level | None) -> str:
    """``needs high-level disinfection``, '' where nothing is owed."""
    return "" if level is None else f"needs {level.value}"


def contact_words(standing: Standing, now: Micros, zone: ZoneInfo) -> str:
    """The newest marked contact: what it touched, when, by whose word; and why more is owed where that is not known."""
    contact, cause = standing.contact, _cause_words(standing)
    if contact is None:
        used = "" if standing.unproven else "It was used, and nobody said what it touched."
        return " ".join(filter(None, ("No contact is marked.", cause or used)))
    surface = SURFACES[Surface(contact.surface)]
    by = f" by {contact.who}" if contact.who else ""
    exam = f" (exam {contact.exam})" if contact.exam else ""
    marked = f"Last contact marked: {surface}, {COVERS[contact.covered]}, {moment(contact.at, now, zone)}{by}{exam}."
    return f"{marked} {cause}" if cause else marked


def _cause_words(standing: Standing) -> str:
    """Why it owes what no marked contact asks for, as a sentence; '' where that stands there already, or none is."""
    if standing.unproven == UNMARKED:
        return "It was used since, or may have been, and nobody said what it touched."
    if standing.unproven and standing.unproven != standing.why:
        return f"Why it needs that: {standing.unproven}."
    return ""


def next_words(probe: ProbePicture, rinses: int | None) -> str:
    """What is to be done next, as an instruction; rinses: how often it is to be rinsed, None where not known."""
    standing = probe.standing
    if standing.fitness is Fitness.INSPECT:
        return "look it over for damage, and enter what you found"
    if standing.fitness is Fitness.IN_USE and not is_marked(standing):
        return "enter what it touched once the exam is over"
    if standing.next_step is not None:
        words = _step_words(standing.next_step, standing, rinses)
        return words if standing.held is None or standing.done else f"do not use it before a sound soak: {words}"
    return _nothing_due_words(probe)


def _nothing_due_words(probe: ProbePicture) -> str:
    """Of a probe of which no step is asked for now."""
    standing = probe.standing
    if was_ready(probe):
        return "make sure that it has not been used since it was last heard"
    if standing.fitness is Fitness.READY:
        return "nothing is owed"
    if standing.owes is None and standing.place is Place.BASIN:
        return "take it out of the basin"
    return "enter what it touched, then reprocess it" if standing.contact is None else "reprocess it"


def look_back_href(basin: str) -> str:
    """Where it is told what the newest strip that failed in a basin puts in doubt."""
    return f"/logbook/look-back?what=strip&basin={quote(basin, safe='')}"


def why_words(why: str) -> str:
    """A reason of the rules, as people say it."""
    return "nobody entered what it touched" if why == UNMARKED else why


def is_marked(standing: Standing) -> bool:
    """Whether somebody told the contact for which it owes what it owes."""
    return standing.owes is not None and standing.contact is not None and not standing.why


def _step_words(step: Step, standing: Standing, rinses: int | None) -> str:
    place, again = standing.place, standing.residue.done > 0
    if step is Step.SOAKED and place is Place.BASIN:
        return "let it soak until the wall says that its basin is done"
    if step is Step.RINSED:
        return f"{'take it out of the basin, and ' if place is Place.BASIN else ''}{_rinse_words(rinses, again=again)}"
    return _NEXT[step]


def _rinse_words(rinses: int | None, *, again: bool) -> str:
    """again: it was rinsed since the soak, and not often enough."""
    if rinses is None:
        return "rinse it as often as the label of its solution says"
    if rinses == 1:
        return f"{_NEXT[Step.RINSED]} once more" if again else _NEXT[Step.RINSED]
    return f"rinse it {rinses}{' more' if again else ''} times"


def tally(probes: Sequence[ProbePicture]) -> str:
    """``20 of 24 probes ready: 1 not proven, 1 to be inspected, 2 to be reprocessed``."""
    counts = Counter(probe.standing.fitness for probe in probes)
    rest = [f"{counts[f]} {_MANY[f]}" for f in URGENCY if counts[f] and f is not Fitness.READY]
    if unheard := sum(map(was_ready, probes)):
        rest.append(f"{unheard} not confirmed")
    ready = f"{sum(map(is_ready, probes))} of {len(probes)} probes ready"
    return f"{ready}: {', '.join(rest)}" if rest else ready


_MANY = {
    **IN_SHORT,
    Fitness.IN_PROCESS: "being reprocessed",
    Fitness.NOT_PROVEN: "not proven",
    Fitness.OWES: "to be reprocessed",
    Fitness.INSPECT: "to be inspected",
}
