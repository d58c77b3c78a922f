"""The command line: puts the parts together. The only place that knows all of them."""

import gc
import signal
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager, nullcontext, suppress
from functools import cache, partial
from importlib.resources import files
from pathlib import Path
from socket import socket
from typing import NoReturn

import click

from dashboard.app import LOCAL_HOSTS, create_app
from dashboard.bench.jobs import Jobs
from dashboard.bench.starting import trying, tuning
from dashboard.bench.workbench import Workbench
from dashboard.premises import Premises
from dashboard.serve import CertificateError, PortError, certificate_of, listen, server
from dashboard.wall_room import room_warnings
from gateway import cli_bench, cli_people, cli_share, look_back_told, probe_told
from gateway.broker import BrokerError
from gateway.channel import Channel
from gateway.channels import channels_of
from gateway.check import describe, warnings
from gateway.cli_share import DataArgument, journal_in
from gateway.clock import Clock, ClockError
from gateway.demo_site import by_hand, keep_site_file
from gateway.demo_staff import staff_demo
from gateway.endpoint import EndpointError
from gateway.hands import Hands
from gateway.journal import StoreError
from gateway.law import Law
from gateway.load_options import LoadAsked, load_options
from gateway.load_reading import LoadError
from gateway.logbook import Logbook
from gateway.logs import FILE as LOG_FILE
from gateway.logs import logged_to
from gateway.look_back_options import Asked, question_options
from gateway.look_back_reading import NothingFoundError
from gateway.people import People, PeopleError
from gateway.people_words import first_steps
from gateway.plainly import speak_to_nobody, telling
from gateway.record_check import NotedHead, check_record
from gateway.replay import recorded_site_id
from gateway.replay import replay as replay_journal
from gateway.replay import verify as verify_journal
from gateway.retold import Telling, another_site, as_json
from gateway.schema import DATABASE, JournalError
from gateway.scribe import Scribe
from gateway.service import Service
from gateway.sitefile import Setup, SiteFile, SiteFileError, load, site_schema
from gateway.situations import Situation
from gateway.staffing import people_of
from gateway.trying import TryError, try_channel
from gateway.verified import tell_record, tell_replay
from gateway.visible import visible
from gateway.when import WhenError, instant_of, written
from rules.part import meant
from rules.picture import Picture
from sim_devices.answering.pagers import Pagers
from sim_devices.answering.people import People as DemoPeople
from sim_devices.diary import DiaryError

PLAIN_ERRORS = (
    SiteFileError,
    JournalError,
    StoreError,
    BrokerError,
    EndpointError,
    ClockError,
    PortError,
    CertificateError,
    DiaryError,
    NothingFoundError,
    WhenError,
    LoadError,
    TryError,
    PeopleError,
)
"""What a user can mend; each says in a sentence how."""

CAUTION = (
    "An aid, not a medical device and not proof of disinfection: time and temperature only.\n"
    "Product label, transducer instructions, local policy and licensed staff govern."
)

plainly = telling(*PLAIN_ERRORS)
BENCH = "bench"
"""In the data folder: what runs of the bench wrote."""

SiteArgument = click.argument("site", type=click.Path(path_type=Path))


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="sinkside", prog_name="sinkside")
def main() -> None:
    """Watches ultrasound carts and the basins where their probes are disinfected."""
    # What is imported stays to the end: to look for garbage in it again and again stops every thread for up to 0.1 s.
    gc.freeze()


for command in (*cli_bench.COMMANDS, *cli_people.COMMANDS, *cli_share.COMMANDS):
    main.add_command(command)


@main.command()
@click.option("--data", type=click.Path(path_type=Path), default=Path("sinkside-demo"), show_default=True)
@click.option("--port", type=click.IntRange(0, 65_535), help="Port of the screens; 0 takes a free one.")
@plainly
def demo(data: Path, port: int | None) -> None:
    """Broker, gateway, screens and a simulated department in one; Ctrl-C ends it."""
    from sim_devices.demo import SITE_FILE  # noqa: PLC0415 - the simulator would slow the start of every other command

    setup = load(SITE_FILE)
    with _screens(setup, port, "--port") as screens, Pagers(Clock().now) as pagers:
        channels = channels_of(_paged_on(pagers.port, setup.file))
        around = partial(_simulated, setup, data, pagers)
        _run(setup, data, screens, around, lambda people, at: (*staff_demo(people).lines(at), by_hand(data)), channels)


def _paged_on(port: int, file: SiteFile) -> SiteFile:
    """The demo's pagers are on a port that is free; what the record keeps of its site file is the same each time."""
    return file.model_copy(update={"channel": tuple(own.model_copy(update={"port": port}) for own in file.channel)})


@main.command()
@SiteArgument
@click.option("--data", type=click.Path(path_type=Path), help="Folder for all that is kept  [default: SITE-data]")
@click.option("--port", type=click.IntRange(0, 65_535), help="Port of the screens, instead of the site file's.")
@plainly
def serve(site: Path, data: Path | None, port: int | None) -> None:
    """The real thing: watches the department that SITE describes."""
    setup = load(site)
    for sentence in (*warnings(setup, Clock().now()), *room_warnings(setup.file)):
        click.echo(f"Warning: {sentence}", err=True)
    with _screens(setup, port, "--port or under [dashboard]") as screens:
        folder = data or site.with_name(f"{site.stem}-data")
        _run(setup, folder, screens, lambda _: nullcontext(), lambda people, at: first_steps(people, at, folder))


@main.command()
@SiteArgument
@plainly
def check(site: Path) -> None:
    """Reads the site file SITE and says what it understood, or what to mend."""
    setup = load(site)
    click.echo(describe(setup, Clock().now(), room_warnings(setup.file)))


@main.command("try-channel")
@SiteArgument
@click.argument("channel")
@click.argument("address")
@plainly
def try_one_channel(site: Path, channel: str, address: str) -> None:
    """Sends one test page over CHANNEL of the site file SITE to ADDRESS, and tells what the other side said."""
    click.echo(visible(try_channel(load(site), channel, address, Clock().now())))


@main.command()
@plainly
def schema() -> None:
    """Prints the JSON Schema of the site file, for editors."""
    click.echo(site_schema())


@main.command()
@plainly
def example() -> None:
    """Prints an annotated site file to start from."""
    click.echo(files("gateway").joinpath("example.toml").read_text(encoding="utf-8"), nl=False)


@main.command()
@DataArgument
@click.option(
    "--head",
    "heads",
    multiple=True,
    metavar="ROWS:ROOT",
    help="A head of the record that was noted earlier; may be given several times.",
)
@plainly
def verify(data: Path, heads: Sequence[str]) -> None:
    """Checks the record in folder DATA: is it what was written, and does it follow from its inputs?

    Works out the Merkle tree of all rows, then plays the journal again and compares every event, byte for byte.
    """
    path = journal_in(data)
    is_whole = tell_record(check_record(path, _noted(heads)))
    if not tell_replay(verify_journal(path)) or not is_whole:
        sys.exit(1)


def _noted(heads: Sequence[str]) -> list[NotedHead]:
    try:
        return [NotedHead.parse(head) for head in heads]
    except ValueError as error:
        raise click.ClickException(str(error)) from error


@main.command()
@DataArgument
@click.option("--site", type=click.Path(path_type=Path), required=True, help="The other site file.")
@click.option("--json", "is_json", is_flag=True, help="For programs: one JSON object, times in microseconds.")
@plainly
def replay(data: Path, site: Path, is_json: bool) -> None:  # noqa: FBT001 - the command line names it
    """What another site file would have said about the inputs in folder DATA."""
    journal, other = journal_in(data), load(site)
    if (sentence := another_site(recorded_site_id(journal), other.file.site.id)) is not None:
        click.echo(f"Warning: {sentence}", err=True)
    found = replay_journal(journal, Law.of(other))
    if is_json:
        click.echo(as_json(found))
        return
    for line in Telling.of(other.file).lines(found):
        click.echo(visible(line))


@main.command()
@DataArgument
@click.argument("probe")
@click.option("--at", metavar="TIME", help="Such as '2026-03-01 14:05', in the site's zone  [default: the newest]")
@click.option("--json", "is_json", is_flag=True, help="For programs: one JSON object, times in microseconds.")
@plainly
def probe(data: Path, probe: str, at: str | None, is_json: bool) -> None:  # noqa: FBT001 - the command line names it
    """How PROBE stood at a time, by all that folder DATA tells of it, and what was made of it then."""
    book = Logbook(journal_in(data))
    zone = book.zone()
    newest = book.head().at
    asked = newest if at is None else instant_of(at, zone)
    if asked > newest:
        raise WhenError(f"'{at}' lies after the end of the record; ask for a time up to {written(newest, zone)}.")
    found = book.probe_at(probe, asked)
    if found is None:
        raise click.ClickException(f"The site file in force then has no probe '{probe}'; {_known_probes(book, probe)}.")
    click.echo(probe_told.as_json(found) if is_json else "\n".join(map(visible, probe_told.lines(found, zone))))


def _known_probes(book: Logbook, probe: str) -> str:
    known = [line.probe.id for line in book.probes()]
    if probe in known:
        return "at another time it has: ask for one with --at"
    return meant(probe, known) if known else "nor has the record any: a site file names them in [[probe]]"


@main.command("look-back")
@DataArgument
@question_options
@click.option("--json", "is_json", is_flag=True, help="For programs: one JSON object, times in microseconds.")
@plainly
def look_back(data: Path, asked: Asked, is_json: bool) -> None:  # noqa: FBT001 - the command line names it
    """Which soaks in folder DATA something bears on, the probes in them, and where those were used since.

    Without an option: whatever the record itself puts in doubt, such as soaks amended to failing.
    """
    book = Logbook(journal_in(data))
    zone = book.zone()
    found = book.look_back(asked.question(zone))
    click.echo(look_back_told.as_json(found) if is_json else "\n".join(map(visible, look_back_told.lines(found, zone))))


@main.group()
def report() -> None:
    """What the record tells of how the department is doing."""


@report.command("alerts")
@DataArgument
@load_options
@plainly
def report_alerts(data: Path, asked: LoadAsked) -> None:
    """The load that alerts and pages in folder DATA are on people, beside its targets."""
    book = Logbook(journal_in(data))
    click.echo(asked.written(book.load(asked.question(book.zone()))))


# ---- what several commands share ----------------------------------------------------------------------------------


def _screens(setup: Setup, port: int | None, chosen_with: str) -> socket:
    """Where the screens are served; ``port`` comes before the site file's."""
    settings = setup.file.dashboard
    return listen(settings.host, settings.port if port is None else port, chosen_with)


def _run(
    setup: Setup,
    folder: Path,
    screens: socket,
    around: Callable[[Service], AbstractContextManager[Hands | None]],
    greet: Callable[[People, str], Iterable[str]],
    channels: Mapping[str, Channel] | None = None,
) -> None:
    """Start everything, serve the screens until a signal comes, end everything.

    around: what goes on beside the gateway, and gives the hands in it. greet: what is said of people, with the address
    of the screens. channels: other than the site's.
    """
    site, settings, certificate = setup.file.site, setup.file.dashboard, certificate_of(setup.file.dashboard)
    # uvicorn raises a signal anew once it has ended; without handlers that would cut off all other endings.
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, _end)
    with (
        suppress(KeyboardInterrupt),
        logged_to(folder),
        Service(setup, folder, channels=channels) as service,
        people_of(setup.file, folder, service.clock.now) as people,
        Scribe(people, service.hub.ask, folder / DATABASE, service.clock.now),
        around(service) as hands,
        Jobs(folder / BENCH, service.clock.now) as jobs,
    ):
        port = screens.getsockname()[1]
        people.served_on(port)
        address = f"{settings.scheme}://{_authority(settings.host)}:{port}"
        try:
            click.echo(f"Sinkside watches {site.name}. Ctrl-C ends it.")
            click.echo("\n".join(greet(people, address)))
            click.echo(f"  broker  {service.endpoint}\n  data    {folder}\n{CAUTION}")
        except BrokenPipeError:  # nobody reads it, but the department is still to be watched
            speak_to_nobody()
        hosts = (*LOCAL_HOSTS, *settings.names, *setup.file.paging.link_hosts)
        premises = Premises.of(setup.file, setup.book, str(service.endpoint))
        app = create_app(
            service.hub,
            site.name,
            site.zone,
            people,
            allowed_hosts=hosts,
            now=service.clock.now,
            premises=premises,
            journal=folder / DATABASE,
            sound=settings.sound,
            answering=service.answering,
            workbench=_workbench(jobs, folder, hands),
        )
        gc.freeze()  # what was built since stays to the end, too
        served = server(app, service.hub.close, proxies=settings.proxies, certificate=certificate)
        served.run(sockets=[screens])
    if isinstance(service.failure, ClockError):
        raise click.ClickException(str(service.failure))
    if service.failure is not None:
        raise click.ClickException(f"Sinkside ended because of a fault of its own; {folder / LOG_FILE} tells more.")


def _workbench(jobs: Jobs, data: Path, hands: Hands | None) -> Workbench:
    record = data.resolve()
    return Workbench(jobs, partial(tuning, record), str(record), _situations, trying, hands)


@cache
def _situations() -> tuple[Situation, ...]:
    from sim_devices.scenarios.library import library  # noqa: PLC0415 - takes long to load
    from sim_devices.scenarios.told import situation  # noqa: PLC0415 - takes long to load

    return tuple(map(situation, library()))


def _end(*_: object) -> NoReturn:
    raise KeyboardInterrupt


def _authority(host: str) -> str:
    return f"[{host}]" if ":" in host else host


@contextmanager
def _simulated(setup: Setup, folder: Path, pagers: Pagers, service: Service) -> Iterator[Hands]:
    """A simulated department and those who answer for its alerts; gives the hands of whoever tries something."""
    from sim_devices.demo import Demo  # noqa: PLC0415 - as above

    now = service.clock.now
    department = Demo(setup.file, setup.book.labels, folder, service.endpoint, now)

    def picture() -> Picture:
        return service.hub.latest.picture

    people = DemoPeople(
        picture=picture,
        entries=lambda: department.entries(picture()),
        carry=lambda: department.carry(pagers),
        ask=service.hub.ask,
        now=now,
        seed=department.seed,
    )
    keep_site_file(setup.text, service.endpoint, folder)
    department.start()
    people.start()
    try:
        yield department.hands
    finally:
        people.stop()
        department.stop()


if __name__ == "__main__":
    main()
