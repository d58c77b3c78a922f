"""All probes of a site: who is meant by a reader, a cart's button or a person, and what a basin did for whom."""

from collections.abc import Collection, Iterator, Mapping

from rules.basin import BasinTracker
from rules.board import Subject, SubjectKind
from rules.cart import CartTracker
from rules.commands import Claim, Contact, Inspected, Placed, ProbeEntry, StepsDone, Vouch
from rules.desk import Desk
from rules.evidence import Sighting
from rules.exposure import Span
from rules.health import SensorSetup, Watch
from rules.pairing import unfit, with_pairing
from rules.picture import ProbePicture, UnclaimedSoak
from rules.probe import ProbeTracker
from rules.probe_events import (
    ProbeEvent,
    ProbeInspected,
    ProbeKnocked,
    ProbeSoaked,
    ProbeStepped,
    ProbeTouched,
    ProbeVouched,
)
from rules.probe_views import is_confirmed, is_sensed
from rules.probe_words import Place, Surface
from rules.readings import SECOND, Micros, Reading, SensorId, SensorKind
from rules.sharers import Sharers
from rules.site import Label, Probe, Site
from rules.soaks import SoakRecord, ended
from rules.spaulding import level_owed
from rules.told_places import words
from rules.vacancy import Vacancy
from rules.whereabouts import Whereabouts


class Probes:
    """Ties probes to readers, carts and basins; each of these knows nothing of the others.

    vacancy: in which basins nothing was.
    """

    def __init__(
        self,
        site: Site,
        labels: Mapping[str, Label],
        desk: Desk,
        trackers: Mapping[str, ProbeTracker],
        sharers: Sharers,
        whereabouts: Whereabouts,
        carts: Mapping[str, CartTracker],
        basins: Mapping[str, BasinTracker],
        present: Micros,
    ) -> None:
        """``present``: how long ago a probe may have been hung back for its cart's button to mean it."""
        self.trackers = trackers
        self.whereabouts = whereabouts
        self._policy = site.reprocessing
        self._present = present
        self._labels = {basin.id: labels[basin.label] for basin in site.basin}
        self._basin_names = {basin.id: basin.name for basin in site.basin}
        self._desk = desk
        self._carts = carts
        self._basins = basins
        self._basin_states = {basin: tracker.state for basin, tracker in basins.items()}
        self.vacancy = Vacancy(
            desk.board, basins, trackers, whereabouts, sharers, strip_each_use=site.solution.strips == "each use"
        )
        self._of_cart = {
            cart.id: tuple(probe.id for probe in site.probe if probe.cart == cart.id) for cart in site.cart
        }

    # ---- what sensors say -----------------------------------------------------------------------------------------

    def place(self, reading: Reading) -> None:
        """A tag reader or a hook spoke."""
        for probe in self.whereabouts.take(reading):
            self._look_where(self.trackers[probe], reading.arrived)
        self.vacancy.hear(reading.sensor, reading.arrived)

    def lose(self, setup: SensorSetup, now: Micros) -> None:
        """A sensor has fallen silent."""
        for probe in self.whereabouts.lose(setup.id):
            self._look_where(self.trackers[probe], now)
        self.vacancy.hear(setup.id, now)
        if setup.kind is SensorKind.MOTION and setup.thing in self._of_cart:
            self.cart_rolls(setup.thing, rolls=False)

    def contact(self, cart: str, cord: str, reading: Reading) -> None:
        """A cart's button told what the exam touched; ``cord``: of the probe, '' where it is the whole cart's."""
        surface = Surface(str(reading.value))
        touched, sure = self._touched(cart, cord, reading)
        for tracker in touched:
            told = self._touch(tracker.setup.probe, surface, reading.arrived, reading.measured)
            self._tell(tracker, told.model_copy(update={"sure": sure}))

    def _touched(self, cart: str, cord: str, reading: Reading) -> tuple[list[ProbeTracker], bool]:
        """Whose contact it may be, and whether that is sure: it can be of no other probe of the cart.

        Of those off their hooks, else of those hung back of late without a mark, else of all.
        """
        ours, at = [self.trackers[probe] for probe in self._of_cart[cart]], reading.measured
        named = [tracker for tracker in ours if tracker.setup.probe.cord == cord]
        if named or self.whereabouts.may_have_waited(reading):
            return named or ours, bool(named)
        in_hands = [tracker for tracker in ours if tracker.was_in_hands(at)]
        of_late = [t for t in ours if t not in in_hands and t.was_used_unmarked(at, t.setup.terms.carry_within)]
        one = len(in_hands) + len(of_late) == 1
        return in_hands or of_late or ours, one and (bool(in_hands) or of_late[0].was_used_unmarked(at, self._present))

    def _touch(self, probe: Probe, surface: Surface, now: Micros, measured: Micros) -> ProbeTouched:
        told = Contact(arrived=now, who="-", probe=probe.id, measured=measured, surface=surface)
        return self._contact(told, probe).model_copy(update={"who": None})

    def shock(self, cart: str, cord: str, reading: Reading) -> None:
        """A probe's holder, or a whole cart, was knocked."""
        for name in self._of_cart[cart]:
            tracker = self.trackers[name]
            peak = float(reading.value)
            if cord in ("", tracker.setup.probe.cord) and peak >= tracker.setup.knock_above_mps2:
                at, measured = reading.arrived, reading.measured
                self._tell(tracker, ProbeKnocked(at=at, probe=name, measured=measured, who=None, peak_mps2=peak))

    def cart_rolls(self, cart: str, *, rolls: bool) -> None:
        """A cart rolls, or stands."""
        for probe in self._of_cart[cart]:
            self.trackers[probe].cart_rolls(rolls=rolls)

    # ---- what people say ------------------------------------------------------------------------------------------

    def enter(self, entry: ProbeEntry, now: Micros, *, struck: bool = False) -> bool:
        """A person told of a probe, or that an entry was wrong; False where it is no news, or not accepted."""
        tracker = self.trackers.get(entry.probe)
        if tracker is None:
            return False
        if isinstance(entry, Placed):
            return self._be_placed(tracker, entry, now, struck=struck)
        if isinstance(entry, Claim):
            return self._unclaim(tracker, entry, now) if struck else self._claim(tracker, entry, now)
        if isinstance(entry, Contact) and not struck:
            self._carts[tracker.setup.probe.cart].exam(entry.happened, now)
        if isinstance(entry, Vouch) and not struck and not self._may_vouch(tracker, entry):
            return False
        event = self._event(tracker.setup.probe, entry)
        if struck and isinstance(event, ProbeTouched):
            event = tracker.as_it_was_told(event)
        return self._tell(tracker, event.model_copy(update={"at": now, "withdrawn": struck}))

    def _event(self, probe: Probe, entry: Contact | StepsDone | Vouch | Inspected) -> ProbeEvent:
        told = {"at": entry.arrived, "probe": probe.id, "measured": entry.happened, "who": entry.who}
        match entry:
            case Contact():
                return self._contact(entry, probe)
            case StepsDone(steps=steps, times=times, remark=remark):
                return ProbeStepped(**told, steps=steps, times=times, remark=remark)
            case Vouch(role=role, why=why):
                return ProbeVouched(**told, role=role, why=why)
            case Inspected(sound=sound, remark=remark):
                return ProbeInspected(**told, sound=sound, remark=remark)

    def _contact(self, entry: Contact, probe: Probe) -> ProbeTouched:
        level = level_owed(
            entry.surface,
            covered=entry.covered,
            percutaneous=entry.percutaneous,
            internal=probe.internal,
            policy=self._policy,
        )
        return ProbeTouched(
            at=entry.arrived,
            probe=probe.id,
            measured=entry.happened,
            who=entry.who,
            surface=entry.surface,
            covered=entry.covered,
            percutaneous=entry.percutaneous,
            exam=entry.exam,
            level=level,
        )

    def _may_vouch(self, tracker: ProbeTracker, vouch: Vouch) -> bool:
        """Whether the role may, and whether a word is enough: it does not outweigh what is known to be owed."""
        return vouch.role in self._policy.vouch_roles and tracker.takes_a_word(vouch.happened, vouch.who, vouch.role)

    def _be_placed(self, tracker: ProbeTracker, entry: Placed, now: Micros, *, struck: bool) -> bool:
        sighting = Sighting(entry.happened, entry.place, entry.thing, entry.who)
        if not (
            tracker.strike_word(sighting) if struck else tracker.take_word(sighting, self._kept_since(tracker, now))
        ):
            return False
        return self._look_where(tracker, now) or struck

    def _kept_since(self, tracker: ProbeTracker, now: Micros) -> Micros:
        """Since when all that sensors said is kept."""
        return self.whereabouts.forget(Micros(now - tracker.setup.memory))

    def _claim(self, tracker: ProbeTracker, claim: Claim, now: Micros) -> bool:
        """Within its time and by who may, a soak can be claimed; that counts as if a reader had said it.

        Not for a probe that a sensor names elsewhere meanwhile.
        """
        found = self._soak(claim.soak)
        if found is None or claim.soak in tracker.state.claims or claim.role not in self._policy.claim_roles:
            return False
        basin, soak = found
        if now > self._claim_by(soak) or soak.end is None or claim.happened >= soak.end:
            return False
        span = Span(max(soak.start, claim.happened), soak.end)
        if self._contradicted(tracker.setup.probe, basin, soak, span):
            return False  # the soak stays open for the probe that was in it
        tracker.state.claims[claim.soak] = claim
        self._look_at_shares(basin, [claim.soak], now)
        return True

    def _unclaim(self, tracker: ProbeTracker, claim: Claim, now: Micros) -> bool:
        held, found = tracker.state.claims.get(claim.soak), self._soak(claim.soak)
        if held != claim or found is None:
            return False
        del tracker.state.claims[claim.soak]
        self._look_at_shares(found[0], [claim.soak], now)
        return True

    # ---- what a basin did -----------------------------------------------------------------------------------------

    def look_at_soaks(self, basin: str, soaks: Collection[str], now: Micros) -> None:
        """These soaks of a basin were judged, or are none any more: what of it was whose?"""
        for tracker in self.trackers.values():
            if any(word.thing == basin for word in tracker.state.entered):
                self._look_where(tracker, now)  # a person's word ends with the soak
        self._look_at_shares(basin, soaks, now)

    def mind_strip(self, basin: str, now: Micros) -> None:
        """A strip failed in a basin, or its solution was thrown away: who tells of the probes that are held for it?"""
        for tracker in self.trackers.values():
            tracker.mind_strip(basin, now)

    def _look_at_shares(self, basin: str, soaks: Collection[str], now: Micros) -> None:
        found = {soak.id: soak for soak in ended(self._basins[basin].state)}
        for name in soaks:
            for tracker in [t for t in self.trackers.values() if t.may_share(name, basin)]:
                self._look_at_share(tracker, basin, name, found.get(name), now)
            self._publish_unclaimed(name)
        self.vacancy.look_into(basin, now)

    def _look_at_share(
        self, tracker: ProbeTracker, basin: str, name: str, soak: SoakRecord | None, now: Micros
    ) -> None:
        """Tell the verdict on a probe's share of a soak where it is news."""
        event = None if soak is None else self._share(tracker, basin, soak, now)
        if tracker.bathe(event) if event is not None else tracker.leave_soak(name, now):
            tracker.learn(now)

    def _share(self, tracker: ProbeTracker, basin: str, soak: SoakRecord, now: Micros) -> ProbeSoaked | None:
        claim, probe = tracker.state.claims.get(soak.id), tracker.setup.probe
        if soak.end is None:
            return None
        span = tracker.presence(basin, Span(soak.start, soak.end))
        if claim is not None:
            span = Span(max(soak.start, claim.happened), soak.end)
        elif span is not None and tracker.who_saw_it(span.start) and self._contradicted(probe, basin, soak, span):
            return None  # a word may be a minute early, and the lid was closed before the probe left its hook
        verdict = None if span is None else self._basins[basin].share(soak.id, span)
        if span is None or verdict is None:
            return None
        return ProbeSoaked(
            at=now,
            probe=probe.id,
            measured=span.start,
            who=None if claim is None else claim.who,
            soak=soak.id,
            basin=basin,
            end=span.end,
            verdict=with_pairing(verdict, probe, self._labels[basin]),
            role=None if claim is None else claim.role,
        )

    def _contradicted(self, probe: Probe, basin: str, soak: SoakRecord, span: Span) -> bool:
        """Whether a sensor had it elsewhere since the lid was closed over it: nothing gets in under a closed one."""
        closed = (c.start for c in soak.closures if c.start <= span.start and (c.end is None or span.start < c.end))
        return self._sensed_elsewhere(probe, basin, Span(next(closed, span.start), span.end)) is not None

    def _sensed_elsewhere(self, probe: Probe, basin: str, span: Span) -> tuple[Place, str] | None:
        """Where a sensor had it that is elsewhere, before the span was over; None where none did."""
        return self.whereabouts.elsewhere(probe.id, basin, Span(span.start, Micros(span.end - 1)))

    def _soak(self, name: str) -> tuple[str, SoakRecord] | None:
        found = ((basin, soak) for basin, tracker in self._basins.items() for soak in ended(tracker.state))
        return next(((basin, soak) for basin, soak in found if soak.id == name), None)

    def _claim_by(self, soak: SoakRecord) -> Micros:
        return Micros((soak.end or soak.start) + round(self._policy.claim_within_hours * 3600) * SECOND)

    def _publish_unclaimed(self, soak: str) -> None:
        subject = Subject(SubjectKind.SOAK, soak)
        if subject in self._desk.board.facts:
            self._desk.board.publish(subject, "unclaimed", not self.vacancy.is_claimed(soak))

    # ---- what follows ---------------------------------------------------------------------------------------------

    def come_under_new_law(self, now: Micros) -> None:
        """Another site file or other rules are in force: every probe is looked at by them."""
        for tracker in self.trackers.values():
            tracker.learn(now)
        for cart in self._of_cart:
            self._note_away(cart, now)

    def stand(self, probe: str, now: Micros) -> None:
        """Time alone may have changed how it stands."""
        tracker = self.trackers[probe]
        tracker.learn(now)
        self._note_away(tracker.setup.probe.cart, now)

    def _tell(self, tracker: ProbeTracker, event: ProbeEvent) -> bool:
        if not tracker.tell(event):
            return False
        tracker.learn(event.at)
        return True

    def _look_where(self, tracker: ProbeTracker, now: Micros) -> bool:
        """Look again at where a probe was; what follows for basins, cart and pairing follows."""
        probe = tracker.setup.probe
        before = tracker.stays()
        since = self._kept_since(tracker, now)
        told = words(tracker.told_since(since), self._basin_states)
        is_news = tracker.see(self.whereabouts.of(probe.id, told), since, now)
        if is_news:
            tracker.learn(now)
        # A word may stand for as long as before, and yet be contradicted now, or no more.
        for basin, stay in sorted((before ^ tracker.stays()) | tracker.stays_by_word()):
            if basin in self._basins:
                self._look_at_shares(basin, self._soaks_in(basin, stay), now)
        if not is_news:
            return False
        found = tracker.stands(now)
        tracker.publish_pairing(self._pairing_fault(probe, found.thing if found.place is Place.BASIN else None))
        self._note_away(probe.cart, now)
        return True

    def _soaks_in(self, basin: str, stay: Span) -> list[str]:
        soaks = ended(self._basins[basin].state)
        return [soak.id for soak in soaks if soak.end is not None and soak.start <= stay.end and stay.start <= soak.end]

    def _pairing_fault(self, probe: Probe, basin: str | None) -> str:
        label = self._labels.get(basin or "")
        return "" if label is None else next((why for _, why in unfit(probe, label)), "")

    def _note_away(self, cart: str, now: Micros) -> None:
        trackers = [self.trackers[probe] for probe in self._of_cart[cart]]
        self._carts[cart].probes_away(frozenset(t.setup.probe.cord for t in trackers if t.is_away(now)))

    # ---- views ----------------------------------------------------------------------------------------------------

    def pictures(self, now: Micros, watches: Mapping[SensorId, Watch]) -> Iterator[ProbePicture]:
        """Every probe as it stands; ``watches``: by sensor, whether it tells of now."""
        named, claimable = self.whereabouts.last_named(), self.unclaimed(now)
        for tracker in self.trackers.values():
            probe = tracker.setup.probe
            yield ProbePicture(
                id=probe.id,
                name=probe.name,
                cart=probe.cart,
                cart_name=tracker.setup.cart_name,
                cord=probe.cord,
                internal=probe.internal,
                serial=probe.serial,
                tag=probe.tag,
                price=probe.price,
                standing=tracker.stands(now),
                confirmed=is_confirmed(tracker, named.get(probe.id), watches),
                sensed=is_sensed(tracker, named.get(probe.id), watches),
                elsewhere=self._elsewhere(probe, claimable),
            )

    def _elsewhere(self, probe: Probe, soaks: Collection[UnclaimedSoak]) -> dict[str, tuple[Place, str]]:
        found = {soak.soak: self._sensed_elsewhere(probe, soak.basin, Span(soak.start, soak.end)) for soak in soaks}
        return {soak: where for soak, where in found.items() if where is not None}

    def unclaimed(self, now: Micros) -> list[UnclaimedSoak]:
        """Ended soaks of which nobody knows the probe and which can still be claimed, newest first."""
        found = [
            UnclaimedSoak(soak.id, basin, soak.start, soak.end, soak.verdict.outcome, self._claim_by(soak))
            for basin, tracker in self._basins.items()
            for soak in ended(tracker.state)
            if soak.end is not None
            and soak.verdict is not None
            and now <= self._claim_by(soak)
            and not self.vacancy.is_claimed(soak.id)
        ]
        return sorted(found, key=lambda soak: soak.end, reverse=True)
