"""A record written into a file to be shared, without the names of people and things in it."""

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from zoneinfo import ZoneInfo

from gateway.export import ExportError
from gateway.law import Law, program_version
from gateway.pseudonyms import Pseudonyms
from gateway.recording import Judged, Recording, Stretch
from gateway.renamed_commands import bare_alert, renamed_command
from gateway.renamed_site import kept_names, prepare, renamed_site, site_text
from gateway.renaming import DAYS_A_WEEK, Removal
from gateway.shared_file import (
    CHUNK_ROWS,
    FORM,
    VERSION,
    AlertsLine,
    Begin,
    CommandLine,
    EndLine,
    LawLine,
    ReadingsLine,
    Row,
    SensorsLine,
    SharedFile,
    TruthLine,
)
from gateway.when import local
from rules.commands import Input
from rules.readings import DAY, KINDS, Micros, Reading, SensorId, SensorKind, Value
from rules.ruleset import RuleBook, load_book
from rules.site import Head, Site

NOBODY_S_SITE = Site(site=Head(id="none", name="none"))
"""A site that adds nothing to the shipped rules and labels."""


@dataclass(frozen=True, slots=True)
class Shared:
    """What was written.

    stretch: from when to when, as it stands in the file. clocks_differ: whether by the site's clock some of it now
    stands an hour earlier or later, as summer time began or ended in between.
    """

    file: Path
    inputs: int
    stretch: Stretch
    zone: ZoneInfo
    weeks: int
    clocks_differ: bool

    def lines(self) -> Iterator[str]:
        """What whoever shares it has to know."""
        since, until = (local(at, self.zone).date() for at in self.stretch)
        yield f"{self.file}: {self.inputs} inputs, {since} to {until}."
        yield "Names of people, places, things, probes, lots and own rules, and all that people wrote, are left out."
        yield f"Times of day, days of the week, the time zone ({self.zone.key}), temperatures and prices are kept."
        if self.weeks:
            yield f"All is moved by {self.weeks:+d} weeks; in the file stands that it is moved, and not how far."
        else:
            yield "Dates are kept, too; --weeks moves all of it by whole weeks."
        if self.clocks_differ:
            yield "For summer time some of it stands an hour off by the site's clock; 52 weeks avoid most of that."
        yield "Decide whether that may be shared, and read it first: zcat FILE | less"


def anonymise(folder: Path, out: Path, weeks: int = 0, truth: Iterable[TruthLine] = ()) -> Shared:
    """Write the record of a data folder without names; it never overwrites a file.

    truth: what really went wrong in it, with its names, where a simulator made it.

    Rejected input, the outbox and channels' addresses and secrets are left out.

    Raises:
        ExportError: there is such a file already.
        JournalError: the journal cannot be read.
        RenamingError: it holds something from which names cannot be taken.
        OSError: the disk refuses.
    """
    if out.exists():
        raise ExportError(f"{out} is there already; name another file, or remove it first.")
    with Recording.open(folder) as days, _made(out) as file:
        copying = _Copying(days, file, weeks)
        copying.write(truth)
        return copying.shared(out)


@contextmanager
def _made(path: Path) -> Iterator[SharedFile]:
    """A new file, which goes again where what is written into it does not come to its end."""
    file = SharedFile(path)
    try:
        yield file
    except BaseException:
        with suppress(OSError):
            file.close()
        path.unlink()
        raise
    file.close()


class _Copying:
    """One way through a record."""

    def __init__(self, days: Recording, file: SharedFile, weeks: int) -> None:
        self._days, self._file, self._weeks = days, file, weeks
        self._laws = [judged for judged in days.laws if not judged.by_command]
        sites = [judged.given.site for judged in self._laws]
        names = Pseudonyms(kept_names(_shipped(judged.given) for judged in self._laws))
        prepare(names, sites)
        self._removal = Removal(names, weeks)
        self._kinds = {id_: sensor.kind for site in sites for id_, sensor in site.sensors().items()}
        self._numbers: dict[SensorId, int] = {}
        self._last: Micros = Micros(0)

    def write(self, truth: Iterable[TruthLine]) -> None:
        """All of it."""
        file, days = self._file, self._days
        begin = Begin(form=FORM, version=VERSION, program=program_version(), moved=bool(self._weeks))
        file.write(begin)
        ends = [judged.from_input - 1 for judged in self._laws[1:]]
        for judged, upto in zip(self._laws, [*ends, days.last_input], strict=True):
            file.write(self._law(judged))
            for chunk in days.inputs(judged.from_input - 1, upto):
                self._inputs(chunk)
        alerts = days.alerts()
        while events := [bare_alert(event, self._removal) for event in islice(alerts, CHUNK_ROWS)]:
            file.write(AlertsLine(events=events))
        for line in truth:
            file.write(self._truth(line))
        file.write(EndLine(inputs=days.last_input, until=self._instant(days.stretch.until)))

    def shared(self, out: Path) -> Shared:
        """What was written."""
        since, until = self._days.stretch
        zone = self._laws[-1].given.site.site.zone
        stretch = Stretch(self._instant(since), self._instant(until))
        differs = _clocks_differ(self._days.stretch, zone, self._weeks)
        return Shared(out, self._days.last_input, stretch, zone, self._weeks, differs)

    def _instant(self, at: int) -> Micros:
        return Micros(self._removal.instant(at))

    def _law(self, judged: Judged) -> LawLine:
        law = judged.given
        text = site_text(renamed_site(law.site, self._removal))
        at = Micros(self._instant(judged.at) if judged.at else 0)
        return LawLine(at=at, site=text, standard=law.standard, labels=law.labels)

    def _truth(self, line: TruthLine) -> TruthLine:
        episodes = [
            (trouble, *self._subject(kind, subject), self._instant(start), None if end is None else self._instant(end))
            for trouble, kind, subject, start, end in line.episodes
        ]
        span = {"since": self._instant(line.since), "until": self._instant(line.until)}
        return line.model_copy(update={"episodes": episodes, **span})

    def _subject(self, kind: str, subject: str) -> tuple[str, str]:
        return kind, self._removal.names.subject(f"{kind} {subject}").removeprefix(f"{kind} ")

    def _inputs(self, chunk: Sequence[Input]) -> None:
        self._name_sensors(chunk)
        rows: list[Row] = []
        for item in chunk:
            arrived = self._instant(item.arrived)
            if isinstance(item, Reading):
                behind = item.arrived - item.measured
                value = self._value(item.sensor, item.value)
                rows.append((self._numbers[item.sensor], arrived - self._last, behind, value, item.timed))
            else:
                rows = self._written(rows)
                self._file.write(CommandLine(command=renamed_command(item, self._removal)))
            self._last = arrived
        self._written(rows)

    def _written(self, rows: list[Row]) -> list[Row]:
        if rows:
            self._file.write(ReadingsLine(rows=rows))
        return []

    def _name_sensors(self, chunk: Sequence[Input]) -> None:
        spoke = dict.fromkeys(item.sensor for item in chunk if isinstance(item, Reading))
        new = [sensor for sensor in spoke if sensor not in self._numbers]
        for sensor in new:
            self._numbers[sensor] = len(self._numbers)
        if new:
            self._file.write(SensorsLine(ids=tuple(map(self._removal.names.sensor, new))))

    def _value(self, sensor: SensorId, value: Value) -> Value:
        if not isinstance(value, str):
            return value
        kind = self._kinds.get(sensor, SensorKind.TAG)
        return value if value in KINDS[kind].words else self._removal.names.tags(value)


def _shipped(law: Law) -> RuleBook:
    return load_book(NOBODY_S_SITE, law.standard, law.labels)


def _clocks_differ(stretch: Stretch, zone: ZoneInfo, weeks: int) -> bool:
    """Whether on any day of it the zone's clocks stood otherwise than so many weeks away."""
    moved = weeks * DAYS_A_WEEK * DAY
    days = range(stretch.since, stretch.until + DAY, DAY)
    return any(
        local(Micros(at), zone).utcoffset() != local(Micros(max(0, at + moved)), zone).utcoffset() for at in days
    )
