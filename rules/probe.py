"""A probe: what is known of it in, how it stands out."""

from bisect import bisect_left
from collections.abc import Iterable, Iterator
from copy import deepcopy
from dataclasses import dataclass, field

from rules.agenda import NEVER, Task
from rules.board import Fact, Subject, SubjectKind
from rules.commands import Claim
from rules.desk import Desk
from rules.evidence import Evidence, Piece, Settled, Sighting, Vouching, piece_of, retold
from rules.exposure import Span
from rules.folding import Fold
from rules.probe_events import ProbeEvent, ProbeSeen, ProbeSoaked, ProbeStands, ProbeTouched
from rules.probe_terms import ProbeTerms
from rules.probe_words import NOWHERE, Fitness, Level, Place
from rules.readings import Micros
from rules.sharers import Sharers
from rules.site import Probe
from rules.soaks import basin_of
from rules.standing import Standing, standing

STAND = "probe standing"
"""Work of the agenda: time alone may have changed how a probe stands."""

MOST_PIECES = 400
MOST_OF_A_KIND = 100
"""So much is remembered of a probe at most, and is left once it is more (ours); with less known, less is proven."""

MOST_WORDS = 400
"""So many words of people on its place are taken in the time that late readings reach (ours): one in 4 min of a day."""

AWAY = (Place.SINK, Place.BASIN, Place.CABINET)
"""Where a probe is not on its cart."""

TIDY_AT = 64
TIDY_EVERY = 16
"""With so many pieces, and again with each so many more, it is looked what need not be remembered (ours)."""

MOST_LOOKED_AT = 24
"""So many instants are tried for one at which nothing was owed (ours)."""


@dataclass(slots=True)
class ProbeState:
    """What is remembered of a probe.

    evidence: all that is known of it. entered: where it was by people's words; sensors' words are kept by the readers.
    baths: by soak, what was last told of the probe's share of it. claims: by soak, what a person claimed.
    told: how it stood when that was last told.
    """

    evidence: Evidence = field(default_factory=Evidence)
    entered: list[Sighting] = field(default_factory=list)
    baths: dict[str, ProbeSoaked] = field(default_factory=dict)
    claims: dict[str, Claim] = field(default_factory=dict)
    told: ProbeStands | None = None
    cart_rolls: bool = False


@dataclass(frozen=True, slots=True)
class ProbeSetup:
    """What the site file says of a probe.

    memory: how far back late readings can reach, microseconds. knock_above_mps2: from which peak a knock counts.
    """

    probe: Probe
    cart_name: str
    terms: ProbeTerms
    memory: Micros
    knock_above_mps2: float


class ProbeTracker:
    """Evidence in; facts, and events on how it stands, out."""

    def __init__(self, setup: ProbeSetup, desk: Desk, sharers: Sharers, state: ProbeState | None = None) -> None:
        self.setup = setup
        self.state = state or ProbeState()
        self._sharers = sharers
        for soak in self.state.baths:
            sharers.add(soak, setup.probe.id)
        self._desk = desk
        self._subject = Subject(SubjectKind.PROBE, setup.probe.id)
        self._task = Task(STAND, setup.probe.id)
        self._basins_seen: frozenset[str] | None = None
        self._fold = Fold(self.state.evidence, setup.terms)
        self._now_stands: Standing | None = None
        self._turns_at = NEVER

    def describe(self) -> None:
        """Put the probe on the board."""
        self._desk.board.add(self._subject, name=self.setup.probe.name, cart_name=self.setup.cart_name)

    # ---- what is known --------------------------------------------------------------------------------------------

    def tell(self, event: ProbeEvent) -> bool:
        """Something is known, or not any more; False where it is no news."""
        piece = piece_of(event)
        evidence = self.state.evidence
        if piece is None:
            return False
        self._fold.change(piece)
        if not (evidence.remove(piece) if event.withdrawn else self._add(piece)):
            return False
        if isinstance(piece, Sighting):
            self._basins_seen = None
        self._desk.say(event)
        return True

    def _add(self, piece: Piece) -> bool:
        evidence = self.state.evidence
        if evidence.knows(piece):
            return False
        evidence.add(piece)
        return True

    def as_it_was_told(self, event: ProbeTouched) -> ProbeTouched:
        """A contact with the level that it demanded when it was told: another policy may be in force since."""
        touches = (t for t in self.state.evidence.touches if t.at == event.measured and t.who == event.who)
        told = (event.model_copy(update={"level": touch.level}) for touch in touches)
        return next((e for e in told if self._knows(e)), event)

    def _knows(self, event: ProbeEvent) -> bool:
        piece = piece_of(event)
        return piece is not None and self.state.evidence.knows(piece)

    def told_since(self, since: Micros) -> list[Sighting]:
        """Where it was by people's words; of what they told of the time before, all but the last is forgotten."""
        self.state.entered = _and_the_last_before(self.state.entered, since)
        return self.state.entered

    def take_word(self, word: Sighting, since: Micros) -> bool:
        """Where it was by a person's word; False where that is known, or too many were given ``since`` then."""
        entered = self.told_since(since)
        if word in entered or len(entered) >= MOST_WORDS:
            return False
        self.state.entered = [*entered, word]
        return True

    def strike_word(self, word: Sighting) -> bool:
        """A person's word was wrong; False where it is not known."""
        left = [told for told in self.state.entered if told != word]
        gone, self.state.entered = len(left) < len(self.state.entered), left
        return gone

    def see(self, sightings: Iterable[Sighting], since: Micros, now: Micros) -> bool:
        """Where it was ``since`` then, by all that is known: tell what is new of it and what is not so any more."""
        floor = max(since, self.state.evidence.since)
        known = [sighting for sighting in self.state.evidence.sightings if sighting.at > floor]
        wanted = [sighting for sighting in sightings if sighting.at > floor]
        gone, fresh = retold(known, wanted)
        for sighting in gone:
            self.tell(self._seen(sighting, now, withdrawn=True))
        for sighting in fresh:
            self.tell(self._seen(sighting, now))
        return bool(gone or fresh)

    def _seen(self, sighting: Sighting, now: Micros, *, withdrawn: bool = False) -> ProbeSeen:
        return ProbeSeen(
            at=now,
            probe=self.setup.probe.id,
            measured=sighting.at,
            who=sighting.who,
            place=sighting.place,
            thing=sighting.thing,
            withdrawn=withdrawn,
        )

    def bathe(self, event: ProbeSoaked) -> bool:
        """What came of its share of a soak; told where it is news."""
        before = self.state.baths.get(event.soak)
        if before is not None and before.model_copy(update={"at": event.at}) == event:
            return False
        self.state.baths[event.soak] = event
        self._sharers.add(event.soak, event.probe)
        piece = piece_of(event)
        if piece is not None:
            self._fold.change(piece)
            self.state.evidence.add(piece)
        self._desk.say(event)
        return True

    def leave_soak(self, soak: str, now: Micros) -> bool:
        """It was not in that soak after all."""
        before = self.state.baths.pop(soak, None)
        if before is None:
            return False
        self._sharers.drop(soak, before.probe)
        return self.tell(before.model_copy(update={"at": now, "withdrawn": True}))

    # ---- where it was ---------------------------------------------------------------------------------------------

    def is_away(self, now: Micros) -> bool:
        """Whether it is not on its cart: seen at a sink, in a basin or in a cabinet, or just on its way from there."""
        nowhere_since = now
        for seen in reversed(self.state.evidence.sightings):
            if seen.place not in NOWHERE:
                return seen.place in AWAY and now - nowhere_since <= self.setup.terms.carry_within
            nowhere_since = seen.at
        return False

    def may_share(self, soak: str, basin: str) -> bool:
        """Whether anything speaks for its having been in that soak of a basin; that of most probes nothing does."""
        return soak in self.state.baths or soak in self.state.claims or basin in self._seen_in()

    def _seen_in(self) -> frozenset[str]:
        """In which basins it was at any time that is remembered."""
        if self._basins_seen is None:
            seen = (s.thing for s in self.state.evidence.sightings if s.place is Place.BASIN)
            self._basins_seen = frozenset(basin for basin in seen if basin is not None)
        return self._basins_seen

    def stays(self) -> set[tuple[str, Span]]:
        """In which basins it was, and when, as far as it is remembered; a stay that lasts ends ``NEVER``."""
        return {
            (seen.thing, Span(seen.at, end))
            for seen, end in self._seen_until()
            if seen.place is Place.BASIN and seen.thing is not None
        }

    def stays_by_word(self) -> set[tuple[str, Span]]:
        """Those of which people told and no sensor."""
        return {(basin, stay) for basin, stay in self.stays() if self.who_saw_it(stay.start) is not None}

    def _seen_until(self) -> Iterator[tuple[Sighting, Micros]]:
        sightings = self.state.evidence.sightings
        return zip(sightings, [*(seen.at for seen in sightings[1:]), NEVER], strict=False)

    def _seen_within(self, span: Span) -> Iterator[tuple[Sighting, Micros]]:
        """Where it was at any instant of the span, and until when; found without a look at all that is remembered."""
        sightings = self.state.evidence.sightings
        first = bisect_left(sightings, span.start, key=lambda seen: seen.at) - 1
        for place in range(max(first, 0), len(sightings)):
            seen = sightings[place]
            if seen.at > span.end:
                return
            yield seen, sightings[place + 1].at if place + 1 < len(sightings) else NEVER

    def who_saw_it(self, at: Micros) -> str | None:
        """Whose word it is where it was from an instant on; None where a sensor told, or nobody did."""
        return next((seen.who for seen, until in self._seen_within(Span(at, at)) if at < until), None)

    def was_in_hands(self, at: Micros) -> bool:
        """Whether it was off its hook and seen nowhere at an instant."""
        return any(s.place is Place.IN_HANDS for s, _ in self._seen_within(Span(at, at)))

    def was_used_unmarked(self, at: Micros, within: Micros) -> bool:
        """Whether it came back from hands no longer than that before an instant, and no contact was marked since."""
        back = ((s.at, end) for s, end in self._seen_until() if s.place is Place.IN_HANDS)
        marks = [touch.at for touch in self.state.evidence.touches if touch.sure and touch.at < at]
        return any(end <= at <= end + within and not any(start <= mark for mark in marks) for start, end in back)

    def presence(self, basin: str, soak: Span) -> Span | None:
        """For how long it was in the basin during a soak without leaving it, the longest time; None where never."""
        spans = (
            Span(max(seen.at, soak.start), min(end, soak.end))
            for seen, end in self._seen_within(soak)
            if seen.thing == basin and seen.place is Place.BASIN
        )
        return max((s for s in spans if s.start < s.end), key=lambda span: (span.micros, -span.start), default=None)

    def takes_a_word(self, at: Micros, who: str, role: str) -> bool:
        """Whether somebody's word that it is fit for use would be enough then: of what lies in a basin it never is."""
        trial = deepcopy(self.state.evidence)
        trial.add(Vouching(at, who, role))
        found = standing(trial, self.setup.terms, at)
        return found.vouched_by == who and found.place is not Place.BASIN

    # ---- how it stands --------------------------------------------------------------------------------------------

    def stands(self, now: Micros) -> Standing:
        """How it stands now."""
        found = self._now_stands
        if found is None or now >= self._turns_at:
            found = self._now_stands = self._fold.standing(now)
            self._turns_at = min(found.changes_at, self.state.evidence.next_after(now))
        return found

    def learn(self, now: Micros) -> Standing:
        """Something was learned, or time has passed: look again at how it stands, and say so where it changed."""
        self._now_stands = None
        self._tidy(now)
        found = self.stands(now)
        self._say_how_it_stands(found, now)
        self._publish(found)
        if self._turns_at < NEVER:
            self._desk.agenda.set(self._task, self._turns_at)
        else:
            self._desk.agenda.cancel(self._task)
        return found

    def _say_how_it_stands(self, found: Standing, now: Micros) -> None:
        stands = ProbeStands(
            at=now,
            probe=self.setup.probe.id,
            measured=now,
            who=None,
            fitness=found.fitness,
            owes=found.owes,
            place=found.place,
            thing=found.thing,
            why=found.why,
        )
        told = self.state.told
        if told is None or told.model_copy(update={"at": now, "measured": now}) != stands:
            self.state.told = stands
            self._desk.say(stands)

    def cart_rolls(self, *, rolls: bool) -> None:
        """Its cart rolls, or stands."""
        if rolls != self.state.cart_rolls:
            self.state.cart_rolls = rolls
            self._desk.board.publish(self._subject, "cart_rolling", rolls)

    def _publish(self, found: Standing) -> None:
        held = found.held is not None and found.reused is None
        owes = found.owes if found.use_seen and not (held and self._told_by_strip(found)) else None
        begun = found.done and found.fitness not in (Fitness.OWES, Fitness.NOT_PROVEN)
        untouched = not begun and found.place is not Place.BASIN and found.fitness is not Fitness.IN_USE
        board = self._desk.board
        facts: dict[str, Fact] = {
            "owes": "" if owes is None else owes.short,
            "lacks": "" if owes is None else owes.process,
            "owes_in_full": "" if owes is None else owes.value,
            "owes_deed": "" if owes is None else owes.deed,
            "owes_disinfection": owes is not None and owes is not Level.CLEANING,
            "held": held,
            "on_hook": found.place is Place.HOOK,
            "waiting": owes is not None and untouched,
            "used_again": found.reused is not None,
            "to_inspect": found.fitness is Fitness.INSPECT,
            "why": found.why,
        }
        for name, value in facts.items():
            board.publish(self._subject, name, value)

    def _told_by_strip(self, found: Standing) -> bool:
        """Whether the alert about a strip tells of it, for all probes that are held at once.

        It does until the solution is thrown away. From then on a held probe is told of by itself, and once it is used
        it owes what it owes as any other does.
        """
        basin = self._desk.board.facts.get(Subject(SubjectKind.BASIN, basin_of(found.held or "")))
        return basin is not None and bool(basin["strip_failed"])

    def mind_strip(self, basin: str, now: Micros) -> None:
        """A strip failed in a basin, or its solution was thrown away."""
        held = self.stands(now).held
        if held is not None and basin_of(held) == basin:
            self.learn(now)

    def publish_pairing(self, fault: str) -> None:
        """Why it must not be in the basin in which it is, '' where it may, or is in none."""
        self._desk.board.publish(self._subject, "pairing_fault", fault)

    # ---- memory ---------------------------------------------------------------------------------------------------

    def _tidy(self, now: Micros) -> None:
        """Forget what no late word can change any more, once it is much."""
        evidence, horizon = self.state.evidence, Micros(now - self.setup.memory)
        if evidence.size < TIDY_AT or evidence.size % TIDY_EVERY:
            return
        start = self._newest_settled(horizon)
        if start is not None:
            evidence.forget(start)
            self._fold.start_anew()
        elif evidence.size > MOST_PIECES:
            evidence.cut(MOST_OF_A_KIND)
            self._fold.start_anew()
        self._basins_seen, floor = None, evidence.since
        self.state.entered = _and_the_last_before(self.state.entered, floor)
        for soak in [soak for soak, told in self.state.baths.items() if told.end <= horizon]:
            del self.state.baths[soak]
            self._sharers.drop(soak, self.setup.probe.id)
        self.state.claims = {s: claim for s, claim in self.state.claims.items() if s in self.state.baths}

    def _newest_settled(self, horizon: Micros) -> Settled | None:
        """How it stood at the newest instant up to the horizon, at which something was done and nothing was owed."""
        evidence = self.state.evidence
        done = (
            *(h.at for h in evidence.handlings),
            *(b.end for b in evidence.baths),
            *(v.at for v in evidence.vouchings),
        )
        for at in sorted((at for at in done if at <= horizon), reverse=True)[:MOST_LOOKED_AT]:
            if (start := self._fold.settled(at)) is not None:
                return start
        return None


def _and_the_last_before(some: list[Sighting], floor: Micros) -> list[Sighting]:
    """Those since then and the one that held then, in the order in which they were told."""
    held = max((sighting.at for sighting in some if sighting.at <= floor), default=NEVER)
    return [sighting for sighting in some if sighting.at > floor or sighting.at == held]
