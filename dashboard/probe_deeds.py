"""What people enter of a probe: the fields of its form as a command, and in words what came of it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, Literal
from zoneinfo import ZoneInfo

from pydantic import Field, StringConstraints

from dashboard.exam_reference import exam_fault
from dashboard.fitness import COVERS, SURFACES, heard_words, place_words, why_words
from dashboard.forms import Blank, DeedError, Form, NotTakenError, Text, Told, filled, written
from dashboard.premises import Premises
from dashboard.probes import STEPS_BY_HAND, elsewhere_words, probe_of
from dashboard.words import moment
from gateway.alert_telling import because
from rules.commands import Claim, Contact, Inspected, Placed, ProbeEntry, StepsDone, Vouch
from rules.events import Event
from rules.picture import Picture, ProbePicture
from rules.probe import MOST_WORDS
from rules.probe_events import (
    ProbeEvent,
    ProbeInspected,
    ProbeSeen,
    ProbeSoaked,
    ProbeStands,
    ProbeStepped,
    ProbeTouched,
    ProbeVouched,
)
from rules.probe_words import Place, Step, Surface
from rules.readings import SECOND, Micros


class Deed(StrEnum):
    """What is entered of a probe; the last part of the address to which it is sent."""

    CONTACT = "contact"
    STEPS = "steps"
    PLACED = "placed"
    CLAIM = "claim"
    STERILISED = "sterilised"
    VOUCH = "vouch"
    INSPECTED = "inspected"


Remark = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=200)]


class _ContactForm(Form):
    surface: Surface
    covered: Literal["yes", "no", "not known"]
    needle: Literal["yes", "no"]
    exam: Annotated[Text | None, Blank] = None


class _StepsForm(Form):
    times: Annotated[int | None, Field(ge=1, le=20), Blank] = None


class _PlacedForm(Form):
    place: Annotated[str, StringConstraints(pattern="^[a-z_]+:[a-z0-9-]*$")]


class _ClaimForm(Form):
    soak: Text
    role: Text
    put_in: Annotated[int, Field(ge=0, le=1440), Blank] = 0


class _VouchForm(Form):
    vouch_role: Text
    why: Remark


class _SterilisedForm(Form):
    vouch_role: Text
    cycle: Remark


class _InspectedForm(Form):
    sound: Literal["yes", "no"]
    remark: Annotated[Remark | None, Blank] = None


_EXPECTED = {
    "surface": "Say what it touched: skin, mucosa, blood or body fluid, or sterile tissue.",
    "covered": "Say whether a cover was on it: yes, no, or not known.",
    "needle": "Say whether a needle was led beside it: yes or no.",
    "exam": "Exam: at most 80 characters, the department's own number and no patient's name.",
    "times": "Times rinsed: a whole number from 1 to 20.",
    "place": "Say where it is: choose one of the places.",
    "soak": "Choose the soak that it was in.",
    "role": "Choose the role in which you say that it was in it.",
    "put_in": "Put in how many minutes after the soak began: a whole number from 0 to 1440.",
    "vouch_role": "Choose the role in which you answer for it.",
    "why": "Write why you answer for it, at most 200 characters.",
    "cycle": "Write by which process and in which load it was sterilised, at most 200 characters.",
    "sound": "Say what you found: sound, or damaged.",
    "remark": "Remark: at most 200 characters.",
}


def entry_of(
    deed: Deed, fields: Mapping[str, str], probe: ProbePicture, picture: Picture, premises: Premises, now: Micros
) -> ProbeEntry:
    """The command that a form asks for.

    Raises:
        DeedError: a field is missing or wrong.
        NotTakenError: the soak cannot be claimed any more, or by this role.
    """
    match deed:
        case Deed.CONTACT:
            return _contact(filled(_ContactForm, fields, _EXPECTED), probe, premises, now)
        case Deed.STEPS:
            return _steps(filled(_StepsForm, fields, _EXPECTED), fields, probe, now)
        case Deed.PLACED:
            return _placed(filled(_PlacedForm, fields, _EXPECTED), probe, picture, premises, now)
        case Deed.CLAIM:
            return _claim(filled(_ClaimForm, fields, _EXPECTED), probe, picture, premises, now)
        case Deed.VOUCH | Deed.STERILISED:
            return _by_word(deed, fields, probe, premises, now)
        case Deed.INSPECTED:
            form = filled(_InspectedForm, fields, _EXPECTED)
            return Inspected(
                arrived=now,
                who=form.who,
                probe=probe.id,
                measured=form.done(now),
                sound=form.sound == "yes",
                remark=form.remark,
            )


def _amiss(name: str) -> DeedError:
    return DeedError(_EXPECTED[name], {name: _EXPECTED[name]})


def _contact(form: _ContactForm, probe: ProbePicture, premises: Premises, now: Micros) -> Contact:
    if form.exam is not None and (fault := exam_fault(form.exam, premises.policy.exam_pattern)):
        raise DeedError(fault, {"exam": fault})
    return Contact(
        arrived=now,
        who=form.who,
        probe=probe.id,
        measured=form.done(now),
        surface=form.surface,
        covered={"yes": True, "no": False, "not known": None}[form.covered],
        percutaneous=form.needle == "yes",
        exam=form.exam,
    )


def _steps(form: _StepsForm, fields: Mapping[str, str], probe: ProbePicture, now: Micros) -> StepsDone:
    done = tuple(step for step in STEPS_BY_HAND if f"step:{step.value}" in fields)
    if not done:
        raise DeedError("Tick the steps that you did.")
    if Step.RINSED in done and form.times is None:
        raise _amiss("times")
    times = form.times if Step.RINSED in done and form.times is not None else 1
    return StepsDone(arrived=now, who=form.who, probe=probe.id, measured=form.done(now), steps=done, times=times)


def _placed(form: _PlacedForm, probe: ProbePicture, picture: Picture, premises: Premises, now: Micros) -> Placed:
    word, _, thing = form.place.partition(":")
    known: dict[str, tuple[Place, Iterable[str]]] = {
        "hook": (Place.HOOK, [cart.id for cart in picture.carts]),
        "in_hands": (Place.IN_HANDS, [""]),
        "sink": (Place.SINK, [sink.id for sink in premises.sinks]),
        "basin": (Place.BASIN, [basin.id for basin in picture.basins]),
        "cabinet": (Place.CABINET, [cabinet.id for cabinet in premises.cabinets]),
    }
    place, things = known.get(word, (Place.UNKNOWN, ()))
    if thing not in things:
        raise _amiss("place")
    return Placed(arrived=now, who=form.who, probe=probe.id, measured=form.done(now), place=place, thing=thing or None)


def _claim(form: _ClaimForm, probe: ProbePicture, picture: Picture, premises: Premises, now: Micros) -> Claim:
    soak = next((soak for soak in picture.unclaimed if soak.soak == form.soak), None)
    if soak is None or now > soak.claim_by:
        raise NotTakenError(_TOO_LATE)
    _check_role(form.role, premises.policy.claim_roles)
    put_in = Micros(soak.start + form.put_in * 60 * SECOND)
    if put_in >= soak.end:
        said = "It was put in after the soak was over: look again at the minutes."
        raise DeedError(said, {"put_in": said})
    return Claim(arrived=now, who=form.who, probe=probe.id, measured=put_in, soak=soak.soak, role=form.role)


_TOO_LATE = (
    "This soak cannot be chosen any more: a probe is known for it already, or its time is over; open the page again to"
    " see which can."
)


def _by_word(
    deed: Deed, fields: Mapping[str, str], probe: ProbePicture, premises: Premises, now: Micros
) -> Vouch | StepsDone:
    """What nothing here measures, and what is taken on the word only of who may answer for a probe."""
    if deed is Deed.STERILISED:
        return _sterilised(filled(_SterilisedForm, fields, _EXPECTED), probe, premises, now)
    form = filled(_VouchForm, fields, _EXPECTED)
    _check_role(form.vouch_role, premises.policy.vouch_roles)
    return Vouch(arrived=now, who=form.who, probe=probe.id, measured=form.done(now), role=form.vouch_role, why=form.why)


def _sterilised(form: _SterilisedForm, probe: ProbePicture, premises: Premises, now: Micros) -> StepsDone:
    """It counts in place of a soak."""
    _check_role(form.vouch_role, premises.policy.vouch_roles)
    if probe.standing.place is Place.BASIN:
        raise NotTakenError("Not taken: it lies in a basin by what is known; take it out first, or say where it is.")
    due = probe.standing.next_step
    if due in (Step.COVER_OFF, Step.WASHED, Step.DRIED) and Step.SOAKED not in probe.standing.done:
        raise NotTakenError(
            f"Not taken: enter first that it was {_BEFORE[due]}; only then can it have been sterilised."
        )
    done, steps = form.done(now), (Step.STERILISED,)
    return StepsDone(arrived=now, who=form.who, probe=probe.id, measured=done, steps=steps, remark=form.cycle)


_BEFORE = {Step.COVER_OFF: "taken out of its cover", Step.WASHED: "washed", Step.DRIED: "dried"}


def _check_role(role: str, roles: Sequence[str]) -> None:
    if role not in roles:
        raise NotTakenError(f"This is for {' or '.join(roles)} only, as the site file says.")


# ---- what came of it ------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Teller:
    """Says what came of an entry; picture, premises: by which names the places are told."""

    picture: Picture
    premises: Premises
    now: Micros
    zone: ZoneInfo

    def told(self, entry: ProbeEntry, events: Sequence[Event]) -> Told:
        """What was written down of this probe, and how it stands since.

        Raises:
            NotTakenError: a claim or a word of which nothing came, or a place against a sensor.
        """
        of_probes = (event for event in events if isinstance(event, ProbeEvent))
        own = [event for event in of_probes if event.probe == entry.probe and not event.withdrawn]
        if any(isinstance(event, _CONFIRMED_BY[type(entry)]) for event in own):
            stands = [event for event in own if isinstance(event, ProbeStands)]
            return written([*map(self._sentence, own), *map(_stands, stands[-1:])], self.now, self.zone)
        if isinstance(entry, Claim):
            raise NotTakenError(self._why_not_claimed(entry))
        if isinstance(entry, Placed) and (heard := self._heard_elsewhere(entry)):
            raise NotTakenError(f"{heard}: {_NOT_THERE}")
        if isinstance(entry, Vouch) and self._owes(entry.probe):
            raise NotTakenError(_WORD_IS_NOT_ENOUGH)
        return Told(_SENSORS_KNOW, anew=False) if isinstance(entry, Placed) else written([], self.now, self.zone)

    def _why_not_claimed(self, claim: Claim) -> str:
        probe = self._probe(claim.probe)
        where = probe and elsewhere_words(probe, claim.soak, self.picture, self.premises)
        return f"Not taken: {where}. {_STAYS_OPEN}" if where else _TOO_LATE

    def _heard_elsewhere(self, placed: Placed) -> str:
        """What a sensor says of where it is now, where that is not where the person placed it."""
        probe = self._probe(placed.probe)
        if probe is not None and self._is_off_its_hook(probe, placed):
            return "Its hook says that it does not hang there"
        if probe is None or (probe.standing.place, probe.standing.thing) == (placed.place, placed.thing):
            return ""
        return heard_words(probe, self.picture, self.premises, self.now, self.zone)

    def _is_off_its_hook(self, probe: ProbePicture, placed: Placed) -> bool:
        """Whether a person hung it up since its hook said that it is off it."""
        if placed.place is not Place.HOOK or placed.happened < (probe.standing.since or placed.happened):
            return False
        cords = (cord for cart in self.picture.carts if cart.id == placed.thing == probe.cart for cord in cart.cords)
        return any(cord.name == probe.cord and cord.on_hook is False for cord in cords)

    def _probe(self, name: str) -> ProbePicture | None:
        return probe_of(self.picture, name)

    def _owes(self, probe: str) -> bool:
        """Whether something of the probe is still to be done."""
        found = self._probe(probe)
        return found is not None and (found.standing.owes is not None or found.standing.next_step is not None)

    def _sentence(self, event: ProbeEvent) -> str:
        """What an event says that an entry brings about; '' for the others."""
        said = ""
        match event:
            case ProbeTouched():
                needle = ", a needle beside it" if event.percutaneous else ""
                surface, cover = SURFACES[event.surface], COVERS[event.covered]
                said = f"Contact: {surface}, {cover}{needle}. It asks for {event.level.value}."
            case ProbeStepped():
                remark = because(event.remark)
                said = f"Done: {', '.join(_step_words(step, event.times) for step in event.steps)}{remark}."
            case ProbeSeen():
                said = f"Place: {place_words(event.place, event.thing, self.picture, self.premises)}."
            case ProbeSoaked():
                ended = moment(event.end, self.now, self.zone)
                said = f"Soak {event.soak}, ended {ended}: {event.verdict.outcome.value}."
            case ProbeVouched():
                said = f"{event.who} answers for it as {event.role}."
            case ProbeInspected():
                said = "Looked over: sound." if event.sound else "Looked over: damaged. Do not use it."
            case _:
                pass
        return said


_WORD_IS_NOT_ENOUGH = (
    "Not taken: what it touched is marked, or it lies in a basin, or a soak is not rinsed off it, and no word outweighs"
    " that. Do what it needs; if the mark was wrong, strike it."
)
_SENSORS_KNOW = (
    "This tells nothing new: the record has it there already, a sensor tells otherwise of then or since, or more than"
    f" {MOST_WORDS} places of it were entered within a day."
)
_NOT_THERE = "what you entered does not count. If it is there, make sure that the sensors tell so, and enter it again."
_STAYS_OPEN = (
    "The soak stays open for the probe that was in it. If this one was put in later, say after how many minutes."
)

_CONFIRMED_BY: Mapping[type[ProbeEntry], type[ProbeEvent]] = {
    Contact: ProbeTouched,
    StepsDone: ProbeStepped,
    Placed: ProbeSeen,
    Claim: ProbeSoaked,
    Vouch: ProbeVouched,
    Inspected: ProbeInspected,
}


def _stands(event: ProbeStands) -> str:
    return f"It stands so now: {event.fitness.value}{f', {why_words(event.why)}' if event.why else ''}."


def _step_words(step: Step, times: int) -> str:
    return f"{step.value} {times} times" if step is Step.RINSED and times > 1 else step.value
