"""Where each probe is, and which tags each reader sees."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

from rules.probe_words import Place
from rules.readings import Micros
from sim_devices.exams import CartExams, Exam
from sim_devices.journeys import Journey, Stay
from sim_devices.rota import Rota
from sim_devices.spans import Span


@dataclass(frozen=True, slots=True)
class ProbeHome:
    """Where a probe belongs. tag: what a reader sees of it, None where it has none."""

    id: str
    cart: str
    cord: str
    tag: str | None
    internal: bool


@dataclass(frozen=True)
class Whereabouts:
    """Where every probe of a department is, at any time.

    rotas: by basin. exams: by cart.
    """

    homes: Mapping[str, ProbeHome]
    rotas: Mapping[str, Rota]
    exams: Mapping[str, CartExams]

    @cached_property
    def _rota_of(self) -> dict[str, Rota]:
        return {probe: rota for rota in self.rotas.values() for probe in rota.probes}

    def journeys(self, probe: str, after: Micros, until: Micros) -> list[Journey]:
        """The journeys of a probe that reach into [after, until], in order; none where nobody soaks it."""
        rota = self._rota_of.get(probe)
        return rota.journeys(probe, after, until) if rota is not None else []

    def newest_journey(self, probe: str, at: Micros) -> Journey | None:
        """The newest journey of a probe that has begun by then."""
        rota = self._rota_of.get(probe)
        return rota.newest(probe, at) if rota is not None else None

    def exam_at(self, probe: str, at: Micros) -> Exam | None:
        """The exam for which a probe is off its hook at the instant."""
        home = self.homes[probe]
        of_cart = self.exams[home.cart].within(at, at)
        return next((e for e in of_cart if e.cord == home.cord and e.off.start <= at < e.off.end), None)

    def stay(self, probe: str, at: Micros) -> Stay:
        """Where a probe is at an instant; on its hook where it is nowhere else."""
        home = self.homes[probe]
        if (journey := self.newest_journey(probe, at)) is not None and at < journey.end:
            return journey.stay_at(at)
        exam = self.exam_at(probe, at)
        if exam is not None:
            return Stay(exam.off.start, Place.IN_HANDS)
        return Stay(journey.end if journey else Micros(0), Place.HOOK, home.cart)

    # ---- what readers see -----------------------------------------------------------------------------------------

    def tags(self, thing: str) -> "TagsAt":
        """What the reader of a basin, station or cabinet sees."""
        rota = self.rotas.get(thing)
        probes = rota.probes if rota is not None else [home for home in self.homes if home in self._rota_of]
        return TagsAt(self, thing, tuple((p, tag) for p in probes if (tag := self.homes[p].tag) is not None))


@dataclass(frozen=True)
class TagsAt:
    """The tags at one reader. probes: those that may be there, with their tags, in the order of the site file."""

    whereabouts: Whereabouts
    thing: str
    probes: tuple[tuple[str, str], ...]

    def at(self, at: Micros) -> str:
        """The tags there, separated by blanks; '' where none is."""
        return " ".join(tag for tag, span in self._spans(at, at) if span.start <= at < span.end)

    def changes(self, after: Micros, until: Micros) -> list[Micros]:
        """The instants in (after, until] at which a probe comes or goes, in order."""
        edges = {edge for _, span in self._spans(after, until) for edge in span if after < edge <= until}
        return sorted(edges)

    def _spans(self, after: Micros, until: Micros) -> Iterator[tuple[str, Span]]:
        for probe, tag in self.probes:
            yield from ((tag, span) for span in self._spans_of(self.whereabouts.journeys(probe, after, until)))

    def _spans_of(self, journeys: Iterable[Journey]) -> Iterator[Span]:
        for journey in journeys:
            yield from (span for span, stay in journey.spans() if stay.thing == self.thing and stay.read)
