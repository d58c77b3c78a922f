"""The journal played again: is it still true, and what would another site file have said?"""

import tomllib
from collections import defaultdict, deque
from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain, islice
from pathlib import Path

from pydantic import ValidationError

from gateway.course import DIFFERENCES_NAMED, Course, Difference, Numbered, differences, travel
from gateway.journal import Epoch, Extent, JournalView
from gateway.law import Law, recorded_site
from gateway.schema import JournalError
from rules.alert_commands import AlertDeed
from rules.alert_events import (
    AlertAcknowledged,
    AlertEvent,
    AlertMoved,
    AlertOver,
    AlertRaised,
    AlertTakenOver,
    NobodyOnDuty,
    PageAsked,
    PageEvent,
    PageReported,
    PageWithdrawn,
    ServiceChanged,
    SoundPaused,
)
from rules.commands import Input
from rules.engine import Engine
from rules.events import (
    EVENT,
    CartWiped,
    EntryStruck,
    Event,
    GelChanged,
    PastRoll,
    PowerUpValue,
    SensorWasOff,
    SoakAmended,
    SoakEnded,
    SoakStarted,
    SoakWithdrawn,
    SolutionDiscarded,
    SolutionPoured,
    SolutionToppedUp,
    StripTaken,
)
from rules.figure_commands import SetFigures
from rules.figure_events import FigureEvent, FiguresChanged, FiguresRefused
from rules.figures import figures_of
from rules.probe_events import ProbeEvent, ProbeSoaked, ProbeStands


@dataclass(frozen=True, slots=True)
class Verification:
    """What playing the whole journal again has shown.

    inputs, events, epochs: how many there are.
    differences: the first events that come out otherwise than recorded, at most ``DIFFERENCES_NAMED``.
    """

    inputs: int
    events: int
    epochs: int
    differences: tuple[Difference, ...]

    @property
    def is_sound(self) -> bool:
        """Whether every event comes out byte for byte as it was recorded."""
        return not self.differences


def verify(path: Path) -> Verification:
    """Play the journal again, each part under the site file and rules that judged it, and compare every event.

    Raises:
        JournalError: the journal cannot be read, or not by this version.
    """
    view = JournalView.open(path)
    try:
        return _verify(view)
    finally:
        view.close()


def _verify(view: JournalView) -> Verification:
    extent, epochs = view.extent(), view.epochs()
    if not epochs:
        return Verification(0, 0, 0, ())
    course = Course.fresh(Law.recorded(epochs[0]))
    replayed = travel(course, view, extent, epochs[1:], Law.recorded)
    found = differences(view.events(0, extent.last_event), replayed, 0)
    return Verification(extent.last_input, extent.last_event, len(epochs), tuple(islice(found, DIFFERENCES_NAMED)))


def inputs(path: Path) -> Iterator[list[Input]]:
    """Every input of a journal in order, some thousands at a time; raises JournalError."""
    view = JournalView.open(path)
    try:
        yield from view.inputs(0, view.extent().last_input)
    finally:
        view.close()


# ---- another site file --------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Changed:
    """The same happening, told differently."""

    was: Event
    now: Event


@dataclass(frozen=True, slots=True)
class WhatIf:
    """What another site file would have said of the same inputs.

    vanished: was said, would not be. appeared: was not said, would be.
    changed: would be said otherwise, or at another time.
    same: how many events would be the same.
    """

    vanished: tuple[Event, ...]
    appeared: tuple[Event, ...]
    changed: tuple[Changed, ...]
    same: int


def recorded_site_id(path: Path) -> str | None:
    """The id of the site under which the journal was last written; None where it is empty or that cannot be read.

    Raises:
        JournalError: the journal cannot be read.
    """
    view = JournalView.open(path)
    try:
        return recorded_site(view.epochs()[-1]).site.id
    except (IndexError, tomllib.TOMLDecodeError, ValidationError):
        return None
    finally:
        view.close()


def replay(path: Path, other: Law) -> WhatIf:
    """Play the journal again under another law; alerts are told apart by rule and subject, not by their numbers.

    Raises:
        JournalError: the journal cannot be read.
    """
    view = JournalView.open(path)
    try:
        extent = view.extent()
        recorded = [EVENT.validate_json(event.body) for event in view.events(0, extent.last_event)]
        return compare(recorded, list(_under(other, view, extent, recorded)))
    except ValidationError as error:
        text = "The journal holds an event that cannot be read: it was changed, or written by another version"
        raise JournalError(f"{text}; 'sinkside verify' names it.") from error
    finally:
        view.close()


def _under(law: Law, view: JournalView, extent: Extent, recorded: list[Event]) -> Iterator[Event]:
    course, epochs = Course.fresh(law), view.epochs()
    raised = {event.alert: event for event in recorded if isinstance(event, AlertRaised)}
    for chunk in view.inputs(0, extent.last_input):
        for item in chunk:
            meant: Input | None = translated(item, raised, course.engine)
            if isinstance(item, SetFigures):
                meant = _over_the_same(item, _judging(epochs, course.last_input + 1), law)
            yield from _events(course.take(meant) if meant is not None else course.pass_over(item))
    yield from _events(course.advance(extent.clock))


def _judging(epochs: Sequence[Epoch], number: int) -> Law | None:
    """The law that judged an input; None where this version cannot read it."""
    try:
        return Law.recorded([epoch for epoch in epochs if epoch.from_input <= number][-1])
    except (JournalError, IndexError):
        return None


def _over_the_same(command: SetFigures, recorded: Law | None, other: Law) -> SetFigures | None:
    """What people changed by command, but for figures of which the other site file says something else."""
    if recorded is None:
        return command
    was, now = figures_of(recorded.book), figures_of(other.book)
    values = {
        name: value
        for name, value in command.values.items()
        if name not in was or (name in now and now[name].value == was[name].value)
    }
    return command.model_copy(update={"values": values}) if values else None


def _events(said: list[Numbered]) -> Iterator[Event]:
    return (event for _, event in said)


def translated(item: Input, raised: Mapping[str, AlertRaised], engine: Engine) -> Input:
    """What is done about an alert goes to that of the same rule and subject, whatever its number is here."""
    if not isinstance(item, AlertDeed) or item.alert not in raised:
        return item
    meant, picture = raised[item.alert], engine.picture()
    found = [
        alert.id
        for alert in (*picture.alerts, *picture.hidden)
        if (alert.rule, alert.subject) == (meant.rule, meant.subject)
    ]
    return item.model_copy(update={"alert": found[0] if found else "none"})


@dataclass(frozen=True, slots=True)
class _Told:
    """An event, what it is about, and its content without the numbers that depend on what was said before."""

    about: tuple[str, ...]
    content: dict[str, object]
    event: Event


_Pairs = list[tuple[_Told, _Told]]


def compare(recorded: list[Event], replayed: list[Event]) -> WhatIf:
    """Pair events that are about the same thing at the same time, then in order; what is left appeared or vanished."""
    prompt, was, now = _paired(_told(recorded), _told(replayed), lambda told: (told.about, told.event.at))
    shifted, was, now = _paired(was, now, lambda told: told.about)
    changed = [(a, b) for a, b in (*prompt, *shifted) if a.content != b.content]
    return WhatIf(
        vanished=tuple(told.event for told in was),
        appeared=tuple(told.event for told in now),
        changed=tuple(Changed(a.event, b.event) for a, b in sorted(changed, key=lambda pair: pair[0].event.at)),
        same=len(prompt) + len(shifted) - len(changed),
    )


def _paired(
    was: list[_Told], now: list[_Told], key: Callable[[_Told], Hashable]
) -> tuple[_Pairs, list[_Told], list[_Told]]:
    """Pairs with the same key, in order, and what is left of both sides."""
    waiting: defaultdict[Hashable, deque[_Told]] = defaultdict(deque)
    for told in now:
        waiting[key(told)].append(told)
    pairs: _Pairs = []
    left: list[_Told] = []
    for told in was:
        queue = waiting[key(told)]
        if queue:
            pairs.append((told, queue.popleft()))
        else:
            left.append(told)
    return pairs, left, sorted(chain.from_iterable(waiting.values()), key=lambda told: told.event.at)


def _told(events: list[Event]) -> list[_Told]:
    raised = {event.alert: event for event in events if isinstance(event, AlertRaised)}
    return [_Told(_about(event, raised), event.model_dump(exclude={"alert"}), event) for event in events]


_AboutAThing = (
    SoakStarted
    | SoakEnded
    | SoakAmended
    | SoakWithdrawn
    | SolutionPoured
    | SolutionToppedUp
    | SolutionDiscarded
    | StripTaken
    | CartWiped
    | GelChanged
    | PastRoll
    | PowerUpValue
    | EntryStruck
    | SensorWasOff
)


def _about(event: Event, raised: dict[str, AlertRaised]) -> tuple[str, ...]:
    if isinstance(event, ProbeEvent):
        return event.kind, event.probe, *_of_probe(event)
    if isinstance(event, AlertEvent | PageEvent):
        return event.kind, *_of_alert(event, raised)
    if isinstance(event, FigureEvent):
        return event.kind, *_of_figures(event)
    return event.kind, *_of_thing(event)


def _of_alert(event: AlertEvent | PageEvent, raised: dict[str, AlertRaised]) -> tuple[str, ...]:
    """Alerts go by rule and subject, for they are numbered otherwise elsewhere."""
    match event:
        case AlertRaised(rule=rule, subject=subject) | AlertMoved(rule=rule, subject=subject):
            return rule, subject
        case AlertAcknowledged(alert=alert) | AlertTakenOver(alert=alert) | AlertOver(alert=alert):
            meant = raised.get(alert)
            return (meant.rule, meant.subject) if meant else (alert,)
        case ServiceChanged(thing=thing, rule=rule):
            return thing, rule or ""
        case SoundPaused():
            return ()
        case _:
            return _of_page(event)


def _of_figures(event: FigureEvent) -> tuple[str, ...]:
    match event:
        case FiguresChanged(changes=changes):
            return tuple(change.name for change in changes)
        case FiguresRefused(names=names):
            return names


def _of_page(event: PageEvent) -> tuple[str, ...]:
    match event:
        case PageAsked(contact=contact, channel=channel, why=why):
            return contact, channel, why
        case PageWithdrawn(page=page) | PageReported(page=page):
            return (page,)
        case NobodyOnDuty(role=role):
            return (role,)


def _of_probe(event: ProbeEvent) -> tuple[str, ...]:
    """What tells one piece of news of a probe from the next; how it stands is one long story."""
    match event:
        case ProbeSoaked(soak=soak):
            return (soak,)
        case ProbeStands():
            return ()
        case _:
            return (str(event.measured),)


def _of_thing(event: _AboutAThing) -> tuple[str, ...]:
    match event:
        case SoakStarted() | SoakEnded() | SoakAmended() | SoakWithdrawn():
            about = (event.soak,)
        case SolutionPoured() | SolutionToppedUp() | SolutionDiscarded() | StripTaken():
            return event.basin, str(event.measured)
        case CartWiped() | GelChanged():
            return event.cart, str(event.measured)
        case PastRoll(cart=thing) | PowerUpValue(sensor=thing):
            about = (thing,)
        case EntryStruck(entry=entry):
            about = (entry.model_dump_json(exclude={"arrived"}),)
        case SensorWasOff(sensor=sensor, since=since):
            return sensor, str(since)
    return about
