"""The lives of probes since they were in a suspect soak, as far as a look-back needs them."""

from collections.abc import Iterable, Iterator
from operator import attrgetter

from gateway.found import Found, Mark, RecordView
from gateway.look_back import Life, uses_of
from gateway.soak_events import by_soak, is_sound
from gateway.strikes import Strikes
from rules.evidence import Bath, Touch
from rules.owing import UNMARKED
from rules.probe_events import ProbeSoaked, ProbeStands, ProbeTouched
from rules.probe_words import Fitness
from rules.readings import Micros

KINDS = ("probe touched", "probe soaked", "probe stands")

CHUNK = 500
"""So many events are read in one go."""


class Lives:
    """Reads lives; ``unsound``: soaks that are suspect or overturned, none of which ends a look-back."""

    def __init__(self, view: RecordView, strikes: Strikes, unsound: set[str]) -> None:
        self._view = view
        self._strikes = strikes
        self._unsound = unsound

    def read(self, probe: str, since: Micros, last_out: Micros) -> Life:
        """What is known of a probe from ``since`` on, at least up to its first sound soak after ``last_out``."""
        sound: dict[str, Bath] = {}
        found: list[Found] = []
        mark = Mark(since, 0)
        while chunk := self._view.of_probe(probe, mark, CHUNK, KINDS):
            found += chunk
            sound |= self._sound(probe, chunk)
            mark = Mark(chunk[-1].measured, chunk[-1].number)
            # A soak may be told anew with a later beginning: what was before that has to be read first.
            if any(last_out <= bath.at < mark.measured for bath in sound.values()):
                break
        in_order = sorted(sound.values(), key=lambda bath: bath.at)
        return Life(tuple(in_order), uses_of(self._touches(found), _came_into_use(found)))

    def _sound(self, probe: str, chunk: Iterable[Found]) -> dict[str, Bath]:
        """The probe's parts in these soaks that count without a doubt, each as it was told last."""
        soaks = {one.event.soak for one in chunk if isinstance(one.event, ProbeSoaked)} - self._unsound
        told = by_soak(self._view.of_soaks(soaks)).values()
        shares = (share for soak in told if soak.is_sound for _, share in soak.shares() if share.probe == probe)
        return {
            s.soak: Bath(s.soak, s.basin, s.measured, s.end, s.verdict.outcome, s.who)
            for s in shares
            if is_sound(s.verdict)
        }

    def _touches(self, found: Iterable[Found]) -> Iterator[Touch]:
        for one in self._strikes.standing(found):
            event = one.event
            if isinstance(event, ProbeTouched):
                yield Touch(event.measured, event.level, event.covered, event.surface, event.exam, event.who)


def _came_into_use(found: Iterable[Found]) -> dict[Micros, bool]:
    """When it came into use, or may have, and whether it was seen to."""
    came: dict[Micros, bool] = {}
    was_in_use = may_have_been = False
    for one in sorted(found, key=attrgetter("number")):
        if isinstance(stands := one.event, ProbeStands):
            is_in_use, is_unmarked = stands.fitness is Fitness.IN_USE, stands.why == UNMARKED
            if is_in_use and not was_in_use:
                came[stands.measured] = True
            elif is_unmarked and not (was_in_use or may_have_been):
                came.setdefault(stands.measured, False)
            was_in_use, may_have_been = is_in_use, is_unmarked
    return came
