"""The lives of probes since they were in a suspect soak, as far as a look-back needs them."""

from collections.abc import Iterable, Iterator

from gateway.found import Found, Mark, RecordView
from gateway.look_back import Life, uses_of
from gateway.soak_events import by_soak
from gateway.strikes import Strikes
from rules.evidence import Bath, Touch
from rules.probe_events import ProbeSoaked, ProbeStands, ProbeTouched
from rules.probe_words import Fitness
from rules.readings import Micros

KINDS = ("probe touched", "probe soaked", "probe stands")

CHUNK = 500
"""So many events are read in one go."""


class Lives:
    """Reads lives; ``unsound``: the soaks that are suspect, none of which ends a look-back."""

    def __init__(self, view: RecordView, strikes: Strikes, unsound: set[str]) -> None:
        self._view = view
        self._strikes = strikes
        self._unsound = unsound

    def read(self, probe: str, since: Micros, last_out: Micros) -> Life:
        """What is known of a probe from ``since`` on, at least up to its first sound soak after ``last_out``."""
        baths: dict[str, Bath] = {}
        found: list[Found] = []
        mark = Mark(since, 0)
        while chunk := self._view.of_probe(probe, mark, CHUNK, KINDS):
            found += chunk
            baths |= self._baths(probe, chunk)
            mark = Mark(chunk[-1].measured, chunk[-1].number)
            if any(bath.at >= last_out and self._is_sound(bath) for bath in baths.values()):
                break
        in_order = sorted(baths.values(), key=lambda bath: bath.at)
        return Life(tuple(in_order), uses_of(self._touches(found), _came_into_use(found)))

    def _is_sound(self, bath: Bath) -> bool:
        return bath.outcome.is_met and bath.soak not in self._unsound

    def _baths(self, probe: str, chunk: Iterable[Found]) -> dict[str, Bath]:
        """The probe's parts in these soaks, each as it was told last."""
        soaks = {one.event.soak for one in chunk if isinstance(one.event, ProbeSoaked)}
        told = by_soak(self._view.of_soaks(soaks)).values()
        shares = (share for soak in told for _, share in soak.shares() if share.probe == probe)
        return {s.soak: Bath(s.soak, s.basin, s.measured, s.end, s.verdict.outcome, s.who) for s in shares}

    def _touches(self, found: Iterable[Found]) -> Iterator[Touch]:
        for one in self._strikes.standing(found):
            event = one.event
            if isinstance(event, ProbeTouched):
                yield Touch(event.measured, event.level, event.covered, event.surface, event.exam, event.who)


def _came_into_use(found: Iterable[Found]) -> Iterator[Micros]:
    before: Fitness | None = None
    for one in sorted(found, key=lambda one: one.number):
        if isinstance(one.event, ProbeStands):
            if one.event.fitness is Fitness.IN_USE and before is not Fitness.IN_USE:
                yield one.event.measured
            before = one.event.fitness
