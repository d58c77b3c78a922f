"""The probes' pages on a phone: the list, and of one probe how it stands, what it owes and why, and what comes next."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import takewhile
from zoneinfo import ZoneInfo

from dashboard import fitness
from dashboard.head import StateView, state_view
from dashboard.live_listings import ProbeNow
from dashboard.live_lists import Sieve, Sifted
from dashboard.premises import Named, Premises
from dashboard.words import hour, moment, until
from gateway.hub import Feed
from rules.agenda import NEVER
from rules.picture import Picture, ProbePicture, UnclaimedSoak
from rules.probe_words import Fitness, Place, Step
from rules.readings import Micros
from rules.soaks import basin_of
from rules.standing import Standing
from rules.steps import DISINFECTING, steps_for

STEPS_BY_HAND = (Step.COVER_OFF, Step.WASHED, Step.RINSED, Step.DRIED, Step.LOW_LEVEL)
"""Steps that people enter, in the order of doing; a soak is measured."""


@dataclass(frozen=True, slots=True)
class ProbeRow:
    """A probe in the list: how it stands as style and in words, what it owes, and where it is."""

    id: str
    name: str
    style: str
    said: str
    owes: str
    place: str


@dataclass(frozen=True, slots=True)
class SoakRow:
    """A soak of which nobody knows the probe; limit: until when it can be claimed; doubt: why not by this probe."""

    id: str
    said: str
    limit: str
    doubt: str = ""


@dataclass(frozen=True, slots=True)
class ProbeListView:
    """All probes, or those that are asked for; tally: how many are ready."""

    state: StateView
    followed: bool
    tally: str
    sifted: Sifted[ProbeRow]
    unclaimed: tuple[SoakRow, ...]
    carts: tuple[Named, ...]


@dataclass(frozen=True, slots=True)
class ProbeView:
    """How one probe stands.

    style, said: its fitness. warning: what is wrong beside it, '' where nothing is. why: what it owes and why, or what
    makes it ready, a sentence each. next_step: what is to be done. place: where it is and since when.
    look_back: address of what a failed strip puts in doubt beside this probe, '' where it is held for none.
    """

    style: str
    said: str
    warning: str
    why: tuple[str, ...]
    next_step: str
    place: str
    known_as: str
    unclaimed: int
    look_back: str = ""


@dataclass(frozen=True, slots=True)
class StepBox:
    """A step that can be entered; due: whether it is among those that come next."""

    name: str
    words: str
    due: bool


@dataclass(frozen=True, slots=True)
class StepsView:
    """The steps as boxes that nobody has ticked; rinses: how often it is to be rinsed, '' where that is not known."""

    boxes: tuple[StepBox, ...]
    rinses: str
    soak_next: bool


@dataclass(frozen=True, slots=True)
class PlaceChoice:
    """A place to which a probe can be said to have come; value: as the form sends it; doubt: why it should not."""

    value: str
    words: str
    doubt: str = ""


@dataclass(frozen=True, slots=True)
class ClaimView:
    """Soaks that can be claimed, and in which roles; allowed: all of these, in words."""

    soaks: tuple[SoakRow, ...]
    roles: tuple[str, ...]
    allowed: str


def probe_of(picture: Picture, name: str) -> ProbePicture | None:
    """The probe with this id."""
    return next((probe for probe in picture.probes if probe.id == name), None)


def exactly(picture: Picture, text: str) -> list[ProbePicture]:
    """Probes whose id, serial number or tag is the text, whatever its case; a scanner gives it so."""
    wanted = text.strip().casefold()
    return [p for p in picture.probes if wanted and wanted in {n.casefold() for n in (p.id, p.serial, p.tag) if n}]


def probe_list_view(
    feed: Feed, site_name: str, now: Micros, zone: ZoneInfo, premises: Premises, sieve: Sieve[ProbeNow]
) -> ProbeListView:
    """The list of probes at an instant, as it is asked for."""
    picture = feed.picture
    there = [ProbeNow(probe, _shown_fitness(probe, picture)) for probe in picture.probes]
    return ProbeListView(
        state=state_view(feed, site_name, now, zone),
        followed=premises.policy.tracked or bool(picture.probes),
        tally=fitness.tally(picture.probes) if picture.hearing else "",
        sifted=sieve.rows(there, now, lambda row: probe_row(row.probe, picture, premises)),
        unclaimed=tuple(soak_row(soak, picture, now, zone) for soak in picture.unclaimed),
        carts=tuple(Named(cart.id, cart.name) for cart in picture.carts),
    )


def _shown_fitness(probe: ProbePicture, picture: Picture) -> Fitness:
    is_known = picture.hearing and not fitness.was_ready(probe)
    return probe.standing.fitness if is_known else Fitness.NOT_PROVEN


def probe_row(probe: ProbePicture, picture: Picture, premises: Premises) -> ProbeRow:
    """A probe in a list."""
    style, said = _said(probe, picture)
    owes = fitness.owes_words(probe.standing.owes)
    return ProbeRow(probe.id, probe.name, style, said, owes, _place(probe, picture, premises))


def _place(probe: ProbePicture, picture: Picture, premises: Premises) -> str:
    words = fitness.place_words(probe.standing.place, probe.standing.thing, picture, premises)
    return words if probe.confirmed or probe.standing.place is Place.UNKNOWN else f"last heard {words}"


def _said(probe: ProbePicture, picture: Picture) -> tuple[str, str]:
    if not picture.hearing:
        return fitness.style(Fitness.NOT_PROVEN), fitness.NOT_CONFIRMED
    if fitness.was_ready(probe):
        return fitness.style(Fitness.NOT_PROVEN), fitness.LAST_HEARD
    return fitness.style(probe.standing.fitness), probe.standing.fitness.value


def soak_row(soak: UnclaimedSoak, picture: Picture, now: Micros, zone: ZoneInfo, doubt: str = "") -> SoakRow:
    """A soak of which nobody knows the probe."""
    basin = next((basin.name for basin in picture.basins if basin.id == soak.basin), soak.basin)
    said = f"{basin}, {moment(soak.start, now, zone)} to {hour(soak.end, zone)}: {soak.outcome.value}"
    return SoakRow(soak.soak, said, f"to be said by {moment(soak.claim_by, now, zone)}", doubt)


def probe_view(probe: ProbePicture, picture: Picture, now: Micros, zone: ZoneInfo, premises: Premises) -> ProbeView:
    """The page of one probe at an instant."""
    standing = probe.standing
    style, said = _said(probe, picture)
    since = f", since {moment(standing.since, now, zone)}" if standing.since is not None else ""
    place = _place(probe, picture, premises)
    numbers = ((f"serial {probe.serial}" if probe.serial else ""), (f"tag {probe.tag}" if probe.tag else ""))
    return ProbeView(
        style=style,
        said=_capital(said),
        warning=_warning(probe, picture, now, zone),
        why=tuple(_why(probe, picture, now, zone)),
        next_step=fitness.next_words(probe, rinses_of(probe, premises)),
        place=f"{_capital(place)}{since}.",
        known_as=", ".join(filter(None, (f"of {probe.cart_name}", *numbers))),
        unclaimed=len(picture.unclaimed),
        look_back="" if standing.held is None else fitness.look_back_href(basin_of(standing.held)),
    )


def _capital(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}"


def _warning(probe: ProbePicture, picture: Picture, now: Micros, zone: ZoneInfo) -> str:
    if not picture.hearing:
        return (
            f"No sensor is heard: it was {probe.standing.fitness.value} when last heard, and may have been used since."
        )
    if probe.standing.reused is not None:
        since = moment(probe.standing.reused, now, zone)
        return f"Used again since {since}, though what it owed from an earlier use was not done."
    return ""


def _why(probe: ProbePicture, picture: Picture, now: Micros, zone: ZoneInfo) -> Iterator[str]:
    standing = probe.standing
    if standing.why:
        yield f"{_capital(fitness.why_words(standing.why))}."
    if standing.owes is not None:
        yield f"It {fitness.owes_words(standing.owes)}."
        yield fitness.contact_words(standing, now, zone)
        if probe.internal:
            yield "An internal probe needs at least high-level disinfection, whatever it touched."
    if standing.done:
        yield f"Done so far: {', '.join(standing.done)}."
    if standing.soak is not None:
        yield f"Disinfected in {_soak_words(standing.soak, picture, now, zone)}."
    if standing.vouched_by is not None:
        yield vouched_words(standing.vouched_by, sterilised=standing.sterilised)
    if standing.fitness is Fitness.READY and standing.soak is None and standing.vouched_by is None:
        marked = "" if standing.contact is None else f" {fitness.contact_words(standing, now, zone)}"
        yield f"What it needed is done, by what people entered.{marked}"
    if standing.ready_until is not None and standing.ready_until < NEVER:
        yield f"In storage it stays ready until {until(standing.ready_until, now, zone)}."


def vouched_words(who: str, *, sterilised: bool) -> str:
    """By whose word it is ready, and what that is."""
    return (
        f"{who} says that it was sterilised elsewhere, and answers for it." if sterilised else f"{who} answers for it."
    )


def _soak_words(soak: str, picture: Picture, now: Micros, zone: ZoneInfo) -> str:
    for basin in picture.basins:
        for ended in basin.ended:
            if ended.id == soak:
                return f"{basin.name}, ended {moment(ended.end, now, zone)} (soak {soak})"
    return f"soak {soak}"


def rinses_of(probe: ProbePicture, premises: Premises) -> int | None:
    """How often it is still to be rinsed after the soak; None where that hangs on the basin, and that is not known."""
    left = probe.standing.residue
    if left.rinses:
        return left.rinses - left.done
    where = probe.standing.thing if probe.standing.place is Place.BASIN else None
    asked = set(premises.rinses.values()) or {premises.policy.rinses}
    return premises.rinses.get(where or "", asked.pop() if len(asked) == 1 else None)


def steps_view(probe: ProbePicture, premises: Premises) -> StepsView:
    """The steps, those marked that are due: the next one, and what follows it."""
    due = set(_due(probe.standing, premises))
    return StepsView(
        boxes=tuple(StepBox(f"step:{step.value}", step.value, step in due) for step in STEPS_BY_HAND),
        rinses=str(rinses_of(probe, premises) or ""),
        soak_next=probe.standing.next_step is Step.SOAKED,
    )


_DUE_FORMS: dict[Step | None, str] = {Step.SOAKED: "placed", Step.STERILISED: "sterilised"}


def due_form(standing: Standing) -> str:
    """The form that is open at first: 'contact', 'steps', 'sterilised', 'placed' or 'inspected'."""
    match standing.fitness:
        case Fitness.INSPECT:
            return "inspected"
        case Fitness.OWES | Fitness.IN_PROCESS:
            return _DUE_FORMS.get(standing.next_step, "steps")
        case Fitness.IN_USE if fitness.is_marked(standing):
            return "steps"
        case _:
            return "contact"


def _due(standing: Standing, premises: Premises) -> tuple[Step, ...]:
    """The next step, and those that follow up to one that disinfects, which is never ticked because another is due."""
    first = standing.next_step
    if first is None or standing.owes is None or first is Step.SOAKED:
        return ()
    covered = Step.COVER_OFF in (first, *standing.done)
    left = steps_for(standing.owes, covered=covered, policy=premises.policy)[len(standing.done) :]
    after = takewhile(lambda step: step not in DISINFECTING, left[1:] if left[:1] == (first,) else ())
    return first, *after


def places_view(probe: ProbePicture, picture: Picture, premises: Premises) -> tuple[PlaceChoice, ...]:
    """Where it can be said to be, without where it is."""
    choices = tuple(_places(probe, picture, premises))
    now_at = f"{probe.standing.place.name.lower()}:{probe.standing.thing or ''}"
    return tuple(choice for choice in choices if choice.value != now_at)


def places_doubt(probe: ProbePicture, picture: Picture, now: Micros, zone: ZoneInfo, premises: Premises) -> str:
    """What to mind before another place is entered: a sensor that says where it is; '' where none does."""
    return fitness.heard_words(probe, picture, premises, now, zone)


def _places(probe: ProbePicture, picture: Picture, premises: Premises) -> Iterator[PlaceChoice]:
    unsuited = premises.unsuited.get(probe.id, {})
    if probe.standing.place is Place.BASIN:
        yield PlaceChoice("in_hands:", "Out of the basin")
    yield PlaceChoice(f"hook:{probe.cart}", f"On its hook at {probe.cart_name}")
    for basin in picture.basins:
        yield PlaceChoice(f"basin:{basin.id}", f"Into {basin.name}", unsuited.get(basin.id, ""))
    for sink in premises.sinks:
        yield PlaceChoice(f"sink:{sink.id}", f"At the sink, {sink.name}")
    for cabinet in premises.cabinets:
        yield PlaceChoice(f"cabinet:{cabinet.id}", f"Into {cabinet.name}")


def claim_view(probe: ProbePicture, picture: Picture, now: Micros, zone: ZoneInfo, premises: Premises) -> ClaimView:
    """Soaks that somebody may claim for this probe."""
    unsuited = premises.unsuited.get(probe.id, {})
    soaks = []
    for soak in picture.unclaimed:
        doubts = (unsuited.get(soak.basin, ""), elsewhere_words(probe, soak.soak, picture, premises))
        soaks.append(soak_row(soak, picture, now, zone, "; ".join(filter(None, doubts))))
    roles = premises.policy.claim_roles
    return ClaimView(tuple(soaks), roles, " or ".join(roles))


def elsewhere_words(probe: ProbePicture, soak: str, picture: Picture, premises: Premises) -> str:
    """Where a sensor says that it was during a soak that can be claimed; '' where none says that it was elsewhere."""
    if soak not in probe.elsewhere:
        return ""
    place, thing = probe.elsewhere[soak]
    return f"a sensor says that it was {fitness.place_words(place, thing, picture, premises)} meanwhile"
