"""Where probes are by what tag readers and hooks say."""

from bisect import bisect_right
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence

from rules.agenda import NEVER
from rules.answers import Answers, Question
from rules.deafness import BACKLOG_WAIT
from rules.evidence import Sighting
from rules.exposure import Span
from rules.health import Ears
from rules.probe_words import Place
from rules.readers import AT_REST, Post, ReaderState, Run, forget, hear, hear_blurred, may_forget, sightings
from rules.readings import NO_TIME, Micros, Reading, SensorId, SensorKind, micros
from rules.site import Site
from rules.told_places import Word

STRANGER = "?"
"""Stands for all tags that a reader names and the site file does not; no probe's id."""


class Whereabouts:
    """The readers of a site and what each said.

    kept_since: since when all that was said is still kept. longest_gap: of all readers and hooks.
    """

    def __init__(
        self,
        posts: Mapping[SensorId, Post],
        tags: Mapping[str, str],
        cords: Mapping[SensorId, str],
        states: Mapping[SensorId, ReaderState],
        ears: Ears,
    ) -> None:
        """``tags``: probe by tag; ``cords``: probe by the hook sensor of its cord."""
        self.states = {sensor: states.get(sensor) or ReaderState() for sensor in posts}
        self._posts = posts
        self._tags = tags
        self._cords = cords
        self._ears = ears
        hooks = {probe: sensor for sensor, probe in cords.items()}
        readers = tuple(sensor for sensor in posts if sensor not in cords)
        self._readers_at = {
            thing: tuple(sensor for sensor in readers if posts[sensor].thing == thing)
            for thing in {posts[sensor].thing for sensor in readers}
        }
        self._answers = Answers()
        self._forget_next = NO_TIME
        self._missed: dict[str, str] = {}
        # By a site file of before a reader may have named one that has no tag now.
        named = (probe for state in self.states.values() for run in state.runs for probe in run.there)
        tagged = {*tags.values(), *named}
        # Its hook first: that is where most probes are most of the time.
        self._may_name = {
            probe: (
                *(hook for hook in [hooks.get(probe)] if hook is not None and hook in posts),
                *(readers if probe in tagged else ()),
            )
            for probe in {*hooks, *tagged}
        }
        self.longest_gap = max((post.gap for post in posts.values()), default=NO_TIME)
        self.kept_since = max((state.since for state in self.states.values()), default=NO_TIME)

    def take(self, reading: Reading) -> tuple[str, ...]:
        """A reader or a hook spoke; the probes of which something else may be known now."""
        sensor, state = reading.sensor, self.states[reading.sensor]
        before = self._newest(state)
        there = self._named(sensor, reading.value)
        waited = self.may_have_waited(reading)
        self._answers.heard(_bears_since(state, reading.arrived if waited else reading.measured))
        if waited:
            changed = hear_blurred(state, reading.arrived, there)
            self._forget_next = min(self._forget_next, may_forget(state))
            return self._told_of(sensor, before, there) if changed else ()
        if not hear(state, reading.measured, there, self._posts[sensor].gap):
            return ()
        self._forget_next = min(self._forget_next, may_forget(state))
        if reading.measured < state.runs[-1].last:
            return self._told_of(sensor, *(run.there for run in state.runs))
        return self._told_of(sensor, before, there)

    def may_have_waited(self, reading: Reading) -> bool:
        """Whether nobody knows when it was said: it tells no time, and the gateway did not hear until just now."""
        ears = self._ears
        if reading.timed or ears.since is None:
            return False
        return not ears.hearing or reading.arrived <= ears.since + BACKLOG_WAIT

    def lose(self, sensor: SensorId) -> tuple[str, ...]:
        """A reader or hook has fallen silent: those that it named are not known to be there any more."""
        state = self.states.get(sensor)
        if state is None or state.lost:
            return ()
        state.lost = True
        self._answers.heard(state.runs[-1].last if state.runs else NO_TIME)
        return self._told_of(sensor, self._newest(state))

    def of(self, probe: str, told: Iterable[Word]) -> list[Sighting]:
        """Where the probe was, in order; ``told``: by people."""
        states = ((sensor, self.states[sensor]) for sensor in self._may_name.get(probe, ()))
        named = {s: state for s, state in states if s in self._cords or any(probe in r.there for r in state.runs)}
        return sightings(probe, self._posts, named, told)

    def saw_nothing(self, thing: str, span: Span) -> bool:
        """Whether the readers of tags there named none at all, and were heard; False where there is none.

        A reader's first word may come as late as one after another one may. That alone proves nothing: a tag may be
        broken, wet or missing, and a reader may lose it.
        """
        return self._answer("saw nothing", thing, span, lambda: self._saw_nothing_at(thing, span))

    def _answer(self, about: str, thing: str, span: Span, find: Callable[[], bool]) -> bool:
        """As it was found before, where the span is over and all that was said about it is kept."""
        if span.start < self.kept_since + self.longest_gap:
            return find()
        return self._answers.of(Question(about, thing, span), find)

    def _saw_nothing_at(self, thing: str, span: Span) -> bool:
        readers = self._readers_at.get(thing, ())
        return bool(readers) and all(self._saw_nothing(reader, span) for reader in readers)

    def _saw_nothing(self, reader: SensorId, span: Span) -> bool:
        gap, runs = self._posts[reader].gap, self.states[reader].runs
        near = [run for run in runs if run.start <= span.end and span.start <= run.last + gap]
        empty = [run for run in near if not run.there]
        named = any(run.there and span.start <= run.last for run in near)
        if not empty or near[-1].there or named or any(run.blurred for run in near):
            return False
        return _is_whole(empty, span, gap)

    def were_elsewhere(self, probes: Collection[str], thing: str, span: Span) -> bool:
        """Whether each of the probes was elsewhere; ``probes``: the same whenever a thing is asked about."""
        return self._answer("elsewhere", thing, span, lambda: self._were_elsewhere(probes, thing, span))

    def _were_elsewhere(self, probes: Collection[str], thing: str, span: Span) -> bool:
        missed = self._missed.get(thing)  # whichever was not seen elsewhere is the first to be looked for again
        if missed is not None and missed in probes and not self.was_elsewhere(missed, thing, span):
            return False
        found = next((probe for probe in probes if not self.was_elsewhere(probe, thing, span)), None)
        if found is not None:
            self._missed[thing] = found
        return found is None

    def was_elsewhere(self, probe: str, thing: str, span: Span) -> bool:
        """Whether a hook, or a reader that is not there, named the probe within the span.

        One that named it last a little before and is not due to speak again is believed until it is.
        """
        named_by = self._may_name.get(probe, ())
        return any(self._named_within(s, probe, span) for s in named_by if self._posts[s].thing != thing)

    def elsewhere(self, probe: str, thing: str, span: Span) -> tuple[Place, str] | None:
        """Where it was, and not there, by a sensor that named it within a span that is over; None where none did.

        One that hung or lay elsewhere as the span began did so, though its sensor did not speak until it was gone.
        """
        question = f"elsewhere than there was {probe}"
        if not self._answer(question, thing, span, lambda: self._found_elsewhere(probe, thing, span) is not None):
            return None
        return self._found_elsewhere(probe, thing, span)

    def _found_elsewhere(self, probe: str, thing: str, span: Span) -> tuple[Place, str] | None:
        posts = ((s, self._posts[s]) for s in self._may_name.get(probe, ()))
        named = (post for s, post in posts if post.thing != thing and self._named_within(s, probe, span))
        if (post := next(named, None)) is not None:
            return post.place, post.thing
        before = [seen for seen in self.of(probe, ()) if seen.at <= span.start][-1:]
        return next(((seen.place, seen.thing or "") for seen in before if seen.place in AT_REST), None)

    def _named_within(self, reader: SensorId, probe: str, span: Span) -> bool:
        gap, state = self._posts[reader].gap, self.states[reader]
        newest = state.runs[-1] if state.runs and not state.lost else None
        # Words without a time of their own may stand a little out of order.
        last = bisect_right(state.runs, span.end + gap, key=lambda run: run.start)
        for place in range(last - 1, -1, -1):
            run = state.runs[place]
            if run.last + gap < span.start:
                return False
            until = run.last + gap if run is newest else run.last
            reaches = span.start <= run.last or span.end <= until
            if probe in run.there and not run.blurred and run.start <= span.end and reaches:
                return True
        return False

    def last_named(self) -> dict[str, tuple[Micros, SensorId]]:
        """By probe, when a sensor last named it, and which did."""
        found: dict[str, tuple[Micros, SensorId]] = {}
        for sensor, state in self.states.items():
            for run in state.runs:
                for probe in run.there:
                    if probe not in found or run.last >= found[probe][0]:
                        found[probe] = run.last, sensor
        return found

    def forget(self, before: Micros) -> Micros:
        """What was said before is needed no more; returns since when all that was said is still kept."""
        if before < self._forget_next:
            return max(before, self.kept_since)
        for state in self.states.values():
            forget(state, before)
        self._forget_next = min(map(may_forget, self.states.values()), default=NEVER)
        self.kept_since = max((state.since for state in self.states.values()), default=NO_TIME)
        self._answers.forget(self.kept_since)
        return max(before, self.kept_since)

    def _named(self, sensor: SensorId, value: object) -> tuple[str, ...]:
        if (probe := self._cords.get(sensor)) is not None:
            return (probe,) if value else ()
        return tuple(sorted({self._tags.get(tag, STRANGER) for tag in str(value).split()}))

    def _told_of(self, sensor: SensorId, *named: tuple[str, ...]) -> tuple[str, ...]:
        """A hook tells of its probe whatever it says: that it is off it, too."""
        return _probes(*named, *((probe,) for probe in [self._cords.get(sensor)] if probe is not None))

    @staticmethod
    def _newest(state: ReaderState) -> tuple[str, ...]:
        return _probes(state.runs[-1].there) if state.runs else ()


def _bears_since(state: ReaderState, at: Micros) -> Micros:
    """Of spans that ended before, a reader's word of then tells nothing that was not known."""
    if not state.runs:
        return at
    newest = state.runs[-1].last
    return newest if at >= newest else NO_TIME


def _is_whole(runs: Sequence[Run], span: Span, gap: Micros) -> bool:
    """Whether no silence between words in a span was longer than the gap, from its start to its end."""
    ends = [span.start, *(run.last for run in runs)]
    starts = [*(run.start for run in runs), span.end]
    return all(start - end <= gap for end, start in zip(ends, starts, strict=True))


def _probes(*named: Iterable[str]) -> tuple[str, ...]:
    return tuple(sorted({probe for some in named for probe in some if probe != STRANGER}))


def whereabouts(site: Site, silent_reports: float, states: Mapping[SensorId, ReaderState], ears: Ears) -> Whereabouts:
    """The readers of the site file: tag readers at basins, stations, cabinets and carts, and the hooks of the cords."""
    places = {
        **{basin.id: Place.BASIN for basin in site.basin},
        **{station.id: Place.SINK for station in site.station},
        **{cabinet.id: Place.CABINET for cabinet in site.cabinet},
        **{cart.id: Place.HOOK for cart in site.cart},
    }
    cords = {SensorId(f"{probe.cart}/hook-{probe.cord}"): probe.id for probe in site.probe}
    posts = {
        sensor.id: Post(
            places[sensor.thing],
            sensor.thing,
            micros(sensor.expected_report_seconds * silent_reports),
            sensor.id in cords,
        )
        for sensor in site.sensors().values()
        if sensor.thing in places and (sensor.kind is SensorKind.TAG or sensor.id in cords)
    }
    tags = {probe.tag: probe.id for probe in site.probe if probe.tag is not None}
    return Whereabouts(posts, tags, cords, states, ears)
