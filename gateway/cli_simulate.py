"""The commands of simulators: a ward at a broker, days in a journal, work by hand."""

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar
from zoneinfo import ZoneInfo

import click

from gateway.clock import Clock
from gateway.endpoint import Endpoint, EndpointError
from gateway.hands import HandsError
from gateway.journal import StoreError
from gateway.law import Law
from gateway.plainly import telling
from gateway.schema import JournalError
from gateway.sitefile import BrokerSettings, Setup, SiteFileError, load, parse
from gateway.visible import visible
from gateway.when import WhenError, instant_of, written
from rules.readings import DAY, SECOND, Micros, micros
from rules.steadiness import GATEWAY
from sim_devices.running.open_files import OpenFilesError
from sim_devices.scenarios.mistakes import ScenarioError
from sim_devices.troubles.table import TruthError

if TYPE_CHECKING:
    from sim_devices.running.at_broker import AtBroker
    from sim_devices.running.simulation import Simulation
    from sim_devices.scenarios.scenario import Scenario

MOST_NAMED = 3
TOLD_EVERY_SECONDS = 10
USUAL_SEED = 7
USUAL_DAYS = 30
MOST_SPEED = 3600
MOST_DAYS = 100
SLOW_SECONDS = 5
"""From so much on it is told that life is late (ours)."""

HASTE = (
    "At speed {speed:g} all lasts {speed:g} times as short, by the devices' own times too, for a gateway takes no times"
    " of the future.\nIt shows how a gateway bears a load; what is to be judged, as a soak, has to come at speed 1."
)

plainly = telling(
    SiteFileError,
    EndpointError,
    JournalError,
    StoreError,
    HandsError,
    WhenError,
    OpenFilesError,
    TruthError,
    ScenarioError,
)
R = TypeVar("R")


@dataclass(frozen=True, slots=True)
class BrokerAsked:
    """The broker's address and credentials as options; None where one was not given."""

    url: str | None
    username: str | None
    password_env: str | None
    password_file: Path | None
    ca_file: Path | None

    def endpoint(self, settings: BrokerSettings) -> Endpoint:
        """As asked for; what was not given, as the site file says."""
        url = self.url or settings.url or f"mqtt://{settings.host}:{settings.port}"
        own = settings.at(url)
        return replace(
            own,
            username=self.username or own.username,
            password_env=self.password_env or own.password_env,
            password_file=self.password_file or own.password_file,
            ca_file=self.ca_file or own.ca_file,
        )


def broker_options(command: Callable[..., R]) -> Callable[..., R]:
    """The options of where the broker is and as whom to speak to it."""

    @click.option("--mqtt", "url", metavar="URL", help="mqtt://host:port or mqtts://host:port.")
    @click.option("--username", help="As whom to speak to the broker  [default: as the site file says]")
    @click.option("--password-env", metavar="NAME", help="The environment variable that holds the password.")
    @click.option("--password-file", type=click.Path(path_type=Path), help="The file with the password.")
    @click.option("--ca-file", type=click.Path(path_type=Path), help="PEM file of the authorities to trust.")
    @wraps(command)
    def asked(
        *args: Any,
        url: str | None,
        username: str | None,
        password_env: str | None,
        password_file: Path | None,
        ca_file: Path | None,
        **others: Any,
    ) -> R:
        broker = BrokerAsked(url, username, password_env, password_file, ca_file)
        return command(*args, broker=broker, **others)

    return asked


def _setup(site: Path | None, carts: int | None, basins: int | None, scenario: "Scenario | None") -> Setup:
    """The site file, a generated hospital, or the ward of a scenario."""
    if scenario is not None and site is None and carts is None and basins is None:
        from sim_devices.scenarios.placed import site_text

        return parse(site_text(scenario), Path(f"{scenario.name}.toml"))
    if site is not None and carts is None and basins is None:
        return load(site)
    if site is not None or carts is None or basins is None:
        raise click.UsageError("Name a site file, or a hospital to be generated with --carts and --basins.")
    from sim_devices.running.hospital import hospital_text

    return parse(hospital_text(carts, basins), Path("generated.toml"))


def _scenario(name: str | None, habits: Path | None, days: int | None) -> "Scenario | None":
    """The scenario of that name, or in that file."""
    if name is None:
        return None
    if habits is not None or days is not None:
        raise click.UsageError("A scenario says who lives there and how long it lasts: leave --habits and --days out.")
    from sim_devices.scenarios.library import found

    return found(name)


@dataclass(frozen=True, slots=True)
class LifeAsked:
    """Which life is simulated, as options.

    start: None = now, or for whole days the last days that are over; for a scenario in a journal as it says itself.
    seed: None = the usual one, or the scenario's.
    """

    start: str | None
    seed: int | None
    habits: Path | None
    scenario: "Scenario | None"

    def of_scenario(self, law: Law, begins: Micros | None, lead_seconds: int) -> "Simulation":
        """The ward in which a scenario takes place; begins: None = when it says."""
        from sim_devices.scenarios.placed import placed
        from sim_devices.scenarios.stage import simulation_of

        if self.scenario is None:
            raise AssertionError("asked for only where there is one")
        return simulation_of(placed(self.scenario, law.site, law.book), begins, lead_seconds, self.seed)

    def simulation(self, law: Law, epoch: Micros) -> "Simulation":
        """The ward that is lived through."""
        from sim_devices.running.figures import FIGURES
        from sim_devices.running.figures_file import load_figures
        from sim_devices.running.simulation import Simulation

        figures = FIGURES if self.habits is None else load_figures(self.habits, law.site)
        seed = USUAL_SEED if self.seed is None else self.seed
        return Simulation(law.site, law.book.labels, epoch, seed, figures, figures=figures)


@click.command()
@click.argument("site", type=click.Path(path_type=Path), required=False)
@click.option("--carts", type=click.IntRange(1, 2000), help="Instead of SITE: a generated hospital of so many carts")
@click.option("--basins", type=click.IntRange(1, 500), help="... and so many basins.")
@broker_options
@click.option("--speed", type=click.FloatRange(0.1, MOST_SPEED), default=1, show_default=True, help="Times faster.")
@click.option("--minutes", type=click.FloatRange(0, min_open=True), help="End after so long  [default: at Ctrl-C]")
@click.option("--beside", is_flag=True, help="Speak though devices of the same names are online at the broker.")
@click.option("--into", type=click.Path(path_type=Path), help="Instead of --mqtt: a new data folder for whole days ...")
@click.option("--days", type=click.IntRange(1, MOST_DAYS), help=f"... and how many  [default: {USUAL_DAYS}]")
@click.option("--start", metavar="TIME", help="When the ward's life begins, such as '2026-03-01 07:30'.")
@click.option("--seed", type=click.IntRange(0), help=f"The same gives the same days  [default: {USUAL_SEED}]")
@click.option("--scenario", metavar="NAME", help="A situation that ships, or a .toml file: it happens in SITE.")
@click.option("--habits", type=click.Path(path_type=Path), help="TOML file of how people behave, and other figures.")
@click.option("--figures", "is_told", is_flag=True, help="Tell every figure, with its unit and source, and end.")
@plainly
def simulate(
    site: Path | None,
    carts: int | None,
    basins: int | None,
    broker: BrokerAsked,
    speed: float,
    minutes: float | None,
    beside: bool,  # noqa: FBT001 - the command line names it
    into: Path | None,
    days: int | None,
    scenario: str | None,
    is_told: bool,  # noqa: FBT001 - the command line names it
    **life: Any,
) -> None:
    """Simulates the department that SITE describes, its people and every device, at a broker or into a journal.

    With --mqtt URL each device speaks on a connection of its own, in real time or --speed times faster. With --into DIR
    a journal of whole days is written as a gateway would have written it, and beside it, in truth.db, what really went
    wrong. With --scenario only that happens, in SITE or, where SITE is left out, in the scenario's own small ward.
    """
    if is_told:
        from sim_devices.running.figures import told

        click.echo("\n".join(told()))
        return
    if (into is None) is (broker.url is None):
        raise click.UsageError("Say where it goes: --mqtt URL for a broker, or --into DIR for a journal.")
    played = _scenario(scenario, life["habits"], days)
    setup, asked = _setup(site, carts, basins, played), LifeAsked(**life, scenario=played)
    if into is not None and played is not None:
        _write_scenario(Law.of(setup), asked, played, into)
    elif into is not None:
        _write_days(Law.of(setup), asked, into, days or USUAL_DAYS)
    else:
        endpoint = broker.endpoint(setup.file.broker)
        if not beside:
            _refuse_company(setup, endpoint)
        _live(setup, asked, endpoint, speed, minutes)


def _write_days(law: Law, asked: LifeAsked, into: Path, days: int) -> None:
    from sim_devices.running.days import write_days
    from sim_devices.troubles.table import Run

    zone = law.site.site.zone
    since = _midnight(Clock().now(), days, zone) if asked.start is None else instant_of(asked.start, zone)
    simulation = asked.simulation(law, since)
    until = Micros(since + days * DAY)
    run = Run(site=law.site.site.id, seed=simulation.seed, since=since, until=until, made_by="habits")

    def tell(done: int) -> None:
        click.echo(f"day {done} of {days} is written", err=True)

    write_days(into, law, simulation, run, tell)
    click.echo(f"{into}: {days} days from {written(since, zone)}, and what really went wrong in them in truth.db")


def _write_scenario(law: Law, asked: LifeAsked, scenario: "Scenario", into: Path) -> None:
    from sim_devices.running.days import write_days
    from sim_devices.scenarios.stage import LEAD_SECONDS
    from sim_devices.troubles.table import Run

    zone = law.site.site.zone
    begins = None if asked.start is None else instant_of(asked.start, zone)
    simulation = asked.of_scenario(law, begins, LEAD_SECONDS)
    since = simulation.lived
    until = Micros(since + LEAD_SECONDS * SECOND + micros(scenario.about.lasts))
    made_by = f"scenario {scenario.name}"
    run = Run(site=law.site.site.id, seed=simulation.seed, since=since, until=until, made_by=made_by)
    write_days(into, law, simulation, run, lambda _: None)
    click.echo(f"{into}: {made_by} from {written(since, zone)}, and what really went wrong in it in truth.db")


def _midnight(now: Micros, days: int, zone: ZoneInfo) -> Micros:
    """The first instant of the earliest of so many whole days that are over."""
    today = datetime.fromtimestamp(now // SECOND, zone).date()
    first = datetime.combine(today - timedelta(days=days), time(), zone)
    return Micros(round(first.timestamp()) * SECOND)


def _refuse_company(setup: Setup, endpoint: Endpoint) -> None:
    """What a simulator says must not be taken for the word of a device that is really there."""
    from sim_devices.running.present import present

    things = {sensor.thing for sensor in setup.file.sensors().values()} - {GATEWAY.id}
    if found := present(endpoint, setup.file, things):
        who = ", ".join(found[:MOST_NAMED]) + (", ..." if len(found) > MOST_NAMED else "")
        raise click.ClickException(
            f"{len(found)} devices of the site '{setup.file.site.id}' are online at {endpoint} ({who}), and a gateway"
            " cannot tell simulated ones from them: take a broker of your own, or another [site] id. Where the broker"
            " only remembers devices that are gone, --beside simulates all the same."
        )


def _live(setup: Setup, asked: LifeAsked, endpoint: Endpoint, speed: float, minutes: float | None) -> None:
    from sim_devices.running.at_broker import AtBroker

    now = Clock().now
    epoch = now() if asked.start is None else instant_of(asked.start, setup.file.site.zone)
    law = Law.of(setup)
    simulation = asked.simulation(law, epoch) if asked.scenario is None else asked.of_scenario(law, epoch, 0)
    with AtBroker(setup.file, simulation, endpoint, now, speed, tell=_warn) as running:
        click.echo(
            f"Simulates {setup.file.site.name} at {endpoint}: {len(simulation.things):,} devices. Ctrl-C ends it."
        )
        if speed != 1:
            click.echo(HASTE.format(speed=speed))
        with suppress(KeyboardInterrupt):
            _tell(running, None if minutes is None else minutes * 60)
    if running.failure is not None:
        raise click.ClickException(f"The simulated ward ended because of a fault of the program: {running.failure}")


def _warn(sentence: str) -> None:
    click.echo(f"Warning: {visible(sentence)}", err=True)


def _tell(running: "AtBroker", seconds: float | None) -> None:
    """How it goes, until the time is over or a fault ended the ward."""
    begun, clock, acknowledged = Clock().now(), Clock(), 0
    while running.failure is None:
        left = TOLD_EVERY_SECONDS if seconds is None else seconds - (clock.now() - begun) / SECOND
        if left <= 0 or running.ended.wait(min(left, TOLD_EVERY_SECONDS)):
            return
        standing = running.standing()
        rate = (standing.acknowledged - acknowledged) / TOLD_EVERY_SECONDS
        acknowledged = standing.acknowledged
        click.echo(
            f"{standing.up:,} of {standing.devices:,} devices connected, {rate:,.1f} messages a second taken, latest"
            f" {standing.latest_seconds:.3f} s late, {standing.lost:,} lost by devices that were not heard"
        )
        if running.behind_seconds > SLOW_SECONDS:
            _warn(
                f"Life is {running.behind_seconds:.0f} s late: this machine is too slow for it; choose a lower --speed."
            )


@click.command()
@click.argument("site", type=click.Path(path_type=Path))
@click.argument("deed", nargs=-1)
@broker_options
@click.option("--list", "is_list", is_flag=True, help="Tell which deeds there are, each with its keys, and end.")
@plainly
def hand(site: Path, deed: Sequence[str], broker: BrokerAsked, is_list: bool) -> None:  # noqa: FBT001 - the command line names it
    """Works a simulated ward by hand: DEED is done in the simulator of SITE that runs at the broker.

    As in: sinkside hand SITE --mqtt URL open-lid basin=basin-1
    """
    from sim_devices.running.hand_topics import DistantHands
    from sim_devices.running.offers import offers_of, told
    from sim_devices.running.spoken_deeds import deed_of, words_of

    setup = load(site)
    if is_list:
        click.echo("\n".join(told(offers_of(setup.file))))
        return
    if not deed:
        raise click.UsageError("Name a deed, such as open-lid basin=basin-1; --list tells all of them.")
    words = words_of(deed)
    deed_of(words)  # what cannot be meant needs no broker to say so
    said = DistantHands(broker.endpoint(setup.file.broker), setup.file).do(words)
    click.echo(visible(said))
