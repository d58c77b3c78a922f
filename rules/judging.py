"""The verdict on an ended soak, and on a probe's share of it."""

from collections.abc import Sequence

from rules.exposure import Span, both, judge, measured_spans, without
from rules.lid import spans_until
from rules.readings import SECOND, Micros
from rules.soaks import BasinSetup, BasinState, SoakRecord
from rules.upkeep import Upkeep
from rules.verdict import Reason, Verdict


class Judging:
    """Judges the soaks of a basin by what is known of it; changes nothing."""

    def __init__(self, setup: BasinSetup, state: BasinState, upkeep: Upkeep) -> None:
        self._setup = setup
        self._state = state
        self._upkeep = upkeep

    def soak(self, soak: SoakRecord) -> Verdict:
        """The verdict on the whole soak, which must have an end."""
        return self._verdict(soak, _closed(soak))

    def share(self, soak: SoakRecord, presence: Span) -> Verdict | None:
        """The verdict on a probe that was in the basin only during ``presence``; None where the soak has none yet.

        A presence that covers the soak has the soak's own verdict. One that meets no closed lid is too short.
        """
        if soak.verdict is None or soak.end is None:
            return None
        if presence.start <= soak.start and soak.end <= presence.end:
            return soak.verdict
        if soak.closed:
            return _cut_down(soak.verdict, both([Span(soak.start, soak.end)], [presence]))
        return self._verdict(soak, both(_closed(soak), [presence]) or [Span(soak.start, soak.start)])

    def _verdict(self, soak: SoakRecord, closed: Sequence[Span]) -> Verdict:
        state, conditions, doubt = self._state, self._setup.conditions, self._setup.doubt
        whole, start, end = _closed(soak), closed[0].start, closed[-1].end
        # A word of the lid before a probe was put in proves that the lid was closed just after it, too.
        said = state.lid.said_within(whole[0].start, whole[-1].end)
        proven = without(measured_spans(said, self._setup.lid_gap), state.unproven())
        doubted = soak.eased or doubt.arises(state.trace.around(Micros(start - doubt.holds), end), start, end)
        verdict = judge(state.trace, closed, proven, conditions, doubted=doubted)
        # Nothing comes into a basin while its lid is closed: solution and strip are those of the closing.
        touched = [span for span in whole if span.start <= end and start <= span.end]
        return self._upkeep.weigh(verdict, Span(touched[0].start, touched[-1].end))


def _closed(soak: SoakRecord) -> list[Span]:
    return spans_until(soak.closures, soak.closures[-1].start)


def _cut_down(verdict: Verdict, present: Sequence[Span]) -> Verdict:
    """What a verdict that nothing changes any more says of a part of its soak.

    The law that it was given by is not known any more: only a stretch that lies wholly in the presence counts on.
    """
    start, end = verdict.credited_start, verdict.credited_end
    counted = both(present, [] if start is None or end is None else [Span(start, end)])
    credit = max(counted, key=lambda span: span.micros, default=None)
    seconds = 0.0 if credit is None else credit.micros / SECOND
    if seconds == verdict.credited_seconds:
        return verdict
    cut = verdict.model_copy(
        update={
            "credited_start": credit and credit.start,
            "credited_end": credit and credit.end,
            "credited_seconds": seconds,
        }
    )
    short = sum(span.micros for span in present) / SECOND < verdict.needed_seconds
    return cut.lacking(Reason.NO_DATA, *([Reason.TOO_SHORT] if short else []))
