"""Whether anything was in a basin while its lid was closed: a lid over nothing is no soak to be told of."""

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from rules.basin import BasinTracker
from rules.board import Board, Subject, SubjectKind
from rules.exposure import Span
from rules.lid import spans_until
from rules.probe import ProbeTracker
from rules.readings import SECOND, Micros, SensorId
from rules.sharers import Sharers
from rules.soaks import SoakRecord
from rules.told_places import said_to_be_in, words
from rules.whereabouts import Whereabouts

STRIP_READ_BEFORE = Micros(15 * 60 * SECOND)
"""A strip read for a soak is read so long before it at most (ours: the longest of the reading delays, 90 s to 15 min by
chemistry)."""


class Emptiness(NamedTuple):
    """What is known of a basin under a closed lid.

    vacant: no probe can have been in it. seems_empty: nothing speaks for one, and a soak would not be begun so.
    """

    vacant: bool
    seems_empty: bool


_IN_USE = Emptiness(vacant=False, seems_empty=False)


class _Look(NamedTuple):
    """Which basin is looked at, and when; ``told``: of which probes people told that they were in it."""

    basin: str
    now: Micros
    told: tuple[ProbeTracker, ...]


class Vacancy:
    """What all basins, readers, hooks and people know of it together."""

    def __init__(
        self,
        board: Board,
        basins: Mapping[str, BasinTracker],
        trackers: Mapping[str, ProbeTracker],
        whereabouts: Whereabouts,
        sharers: Sharers,
        *,
        strip_each_use: bool,
    ) -> None:
        """``strip_each_use``: a strip is to be read before each soak."""
        self._board = board
        self._basins = basins
        self._trackers = trackers
        self._whereabouts = whereabouts
        self._sharers = sharers
        self._strip_each_use = strip_each_use

    def is_claimed(self, soak: str) -> bool:
        """Whether it is known of a probe that it was in that soak."""
        return self._sharers.know(soak)

    def hear(self, reader: SensorId, now: Micros) -> None:
        """A reader or a hook spoke, or fell silent; readers do so all the time."""
        if (basin := reader.partition("/")[0]) not in self._basins:
            return
        look, soaks = self._look(basin, now), self._basins[basin].state.soaks
        for soak in soaks:
            if not self._is_settled(Subject(SubjectKind.SOAK, soak.id), soak.end, now):
                self._look_at(look, soak)
        begun = soaks[-1].closures[-1].start if soaks else None
        subject = Subject(SubjectKind.BASIN, basin)
        if not self._is_settled(subject, begun, now):
            self._look_at_newest(look)
        elif not self._saw_nothing(look, soaks[-1]):
            self._publish(subject, _IN_USE)

    def look_into(self, basin: str, now: Micros) -> None:
        """Tell the rules whether anything was in the basin while its lid was closed."""
        look = self._look(basin, now)
        for soak in self._basins[basin].state.soaks:
            self._look_at(look, soak)
        self._look_at_newest(look)

    def _look(self, basin: str, now: Micros) -> _Look:
        entered = (tracker for tracker in self._trackers.values() if tracker.state.entered)
        told = (t for t in entered if any(entry.thing == basin for entry in t.state.entered))
        return _Look(basin, now, tuple(told))

    def _look_at(self, look: _Look, soak: SoakRecord) -> None:
        subject = Subject(SubjectKind.SOAK, soak.id)
        if subject in self._board.facts and not self._is_decided(subject, soak):
            self._publish(subject, self._emptiness(look, soak))

    def _look_at_newest(self, look: _Look) -> None:
        soaks = self._basins[look.basin].state.soaks
        emptiness = self._emptiness(look, soaks[-1]) if soaks else _IN_USE
        self._publish(Subject(SubjectKind.BASIN, look.basin), emptiness)

    def _publish(self, subject: Subject, emptiness: Emptiness) -> None:
        self._board.publish(subject, "vacant", emptiness.vacant)
        self._board.publish(subject, "seems_empty", emptiness.seems_empty)

    def _is_settled(self, subject: Subject, since: Micros | None, now: Micros) -> bool:
        """Whether words that come as they always do change nothing.

        One gap after it began nothing that was said before is believed any more; in the next it was looked at again.
        """
        facts = self._board.facts.get(subject)
        if facts is None or not facts["vacant"] or since is None:
            return facts is None
        return now > since + 2 * self._whereabouts.longest_gap

    def _is_decided(self, subject: Subject, soak: SoakRecord) -> bool:
        """Whether what was found of an ended soak is all that can be, since what was said meanwhile is forgotten."""
        kept_since = self._whereabouts.kept_since
        if soak.end is None or soak.end < kept_since:
            return True
        return soak.start < kept_since and bool(self._board.facts[subject]["vacant"])

    def _emptiness(self, look: _Look, soak: SoakRecord) -> Emptiness:
        """That the basin's reader saw no tag is never enough, for a tag may fail, and so may a reader.

        Nothing gets in or out under a closed lid: it was vacant if also every probe was named elsewhere while it was
        closed. Short of that it seems empty if nobody did what is to be done before each soak: read a strip.
        """
        if not self._seems_unused(look, soak) or self._was_made_ready(look, soak):
            return _IN_USE
        where, closures = self._whereabouts, self._remembered(look, soak)
        vacant = all(where.were_elsewhere(self._trackers, look.basin, shut) for shut in closures)
        return Emptiness(vacant, vacant or self._strip_each_use)

    def _seems_unused(self, look: _Look, soak: SoakRecord) -> bool:
        """Neither the reader nor anybody tells of a probe in it."""
        if not self._saw_nothing(look, soak) or self.is_claimed(soak.id):
            return False
        basins = {look.basin: self._basins[look.basin].state}
        told = [tuple(words(tracker.state.entered, basins)) for tracker in look.told]
        return not any(said_to_be_in(t, look.basin, shut) for t in told for shut in self._remembered(look, soak))

    def _saw_nothing(self, look: _Look, soak: SoakRecord) -> bool:
        return all(self._whereabouts.saw_nothing(look.basin, shut) for shut in self._remembered(look, soak))

    def _remembered(self, look: _Look, soak: SoakRecord) -> Iterator[Span]:
        """What is still known of its closures; the lid of an unused basin stays closed for days."""
        for start, end in spans_until(soak.closures, look.now):
            yield Span(max(start, min(end, self._whereabouts.kept_since)), end)

    def _was_made_ready(self, look: _Look, soak: SoakRecord) -> bool:
        """Whether a strip was read just before the lid was closed, and not for a soak before it."""
        state, used = self._basins[look.basin].state, Micros(soak.start - STRIP_READ_BEFORE)
        strips = [strip.read for strip in state.solution.strips if used < strip.read <= soak.start]
        for before in state.soaks if strips else ():
            if before.end is None or not used < before.end <= soak.start:
                continue
            if any(used < read <= before.start for read in strips) or not self._seems_unused(look, before):
                used = before.end
        return any(used < read for read in strips)
