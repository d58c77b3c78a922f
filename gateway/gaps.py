"""What a soak's record does not show: what is never measured, what was not measured here, and what nobody entered."""

from collections.abc import Iterator, Sequence
from zoneinfo import ZoneInfo

from gateway.soak_log import Exposure, ProbeShare
from gateway.solution_log import LoggedSolution, LoggedStrip
from gateway.when import local
from rules.exposure import Span
from rules.readings import SECOND

NEVER_MEASURED = (
    "Cleaning was not measured: it is what people entered.",
    "Concentration was not measured beyond what a strip shows, a person's word.",
    "Sterility was not measured: lid and temperature show the conditions of the exposure only.",
)

GAPS_NAMED = 5
"""So many gaps are told one by one (ours); a count tells of the others."""


def unmeasured(exposure: Exposure, zone: ZoneInfo, *, setup_known: bool) -> Iterator[str]:
    """A plain sentence for each thing that was not measured; ``setup_known``: whether gaps could be looked for."""
    yield from NEVER_MEASURED
    if not setup_known:
        yield "What was asked of the basin cannot be read by this version: gaps in the temperature were not looked for."
    if exposure.lowest_celsius is None:
        yield "No temperature was measured during the soak."
        return
    yield from (f"No temperature is known {_span(gap, zone)}." for gap in exposure.gaps[:GAPS_NAMED])
    if (more := len(exposure.gaps) - GAPS_NAMED) > 0:
        yield f"There are {more} more gaps in the temperature."


def _span(span: Span, zone: ZoneInfo) -> str:
    return f"for {span.micros / SECOND:.0f} s from {local(span.start, zone):%H:%M:%S}"


def not_entered(
    solution: LoggedSolution | None, strip: LoggedStrip | None, probes: Sequence[ProbeShare]
) -> Iterator[str]:
    """What nobody entered, in the words of a form."""
    yield from _of_solution(solution)
    yield from _of_strip(strip)
    if not probes:
        yield "which probe was in it"
    for share in probes:
        for missing in _of_probe(share):
            yield f"{share.probe.name}: {missing}"


def _of_solution(solution: LoggedSolution | None) -> Iterator[str]:
    if solution is None:
        yield "the pour of the solution"
        return
    if solution.lot.printed_expiry is None:
        yield "printed expiry of the solution"
    if solution.lot.opened is None:
        yield "day on which the bottle was opened"


def _of_strip(strip: LoggedStrip | None) -> Iterator[str]:
    if strip is None:
        yield "a strip before the soak"
        return
    said = strip.strip
    fields = (("lot of the strips", said.lot), ("expiry of the strips", said.expiry), ("dip of the strip", said.dipped))
    yield from (name for name, value in fields if value is None)
    if said.who is None:
        yield "who read the strip"


def _of_probe(share: ProbeShare) -> Iterator[str]:
    if share.probe.serial is None:
        yield "serial number (site file)"
    if not share.contacts:
        yield "what it touched"
    elif share.contacts[-1].exam is None:
        yield "reference of the exam"
    if share.cleaning_delay_seconds is None:
        yield "when it was washed"
    if share.put_in_by is None:
        yield "who put it into the basin"
    if share.inspected is None:
        yield "look for damage"
