"""What a screen can show: one frozen picture of everything, made by the engine and read by anybody."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from rules.air import VapourLimit
from rules.alert_words import Priority, State
from rules.call_picture import CallPicture, RolePicture
from rules.figure_picture import FigurePicture
from rules.probe_words import Place
from rules.readings import Micros, SensorId, SensorKind, Value
from rules.solution import Clocks, SolutionLot, Strip, Terms
from rules.standing import Standing
from rules.vapour import Trend
from rules.verdict import Outcome, Reason, SolutionCheck


@dataclass(frozen=True, slots=True)
class SoakPicture:
    """A soak under way.

    lid_open_since: the lid was lifted before the label's time; the soak waits for it to be closed again.
    stretch_start: start of the unbroken credit now running, None while nothing is being credited.
    done_at: when the label's time will be reached if the temperature goes on as it does.
    never_because: 'cold' or 'cooling' where at this temperature it never will; None otherwise.
    lacking: what its solution and strips lack so far; empty where the site keeps no record of them.
    strip_entered: when the strip that counts for it was entered, where that was only after it began.
    """

    id: str
    start: Micros
    needed_seconds: float
    credited_seconds: float
    lid_open_since: Micros | None
    stretch_start: Micros | None
    done_at: Micros | None
    never_because: str | None
    lacking: tuple[Reason, ...] = ()
    strip_entered: Micros | None = None


@dataclass(frozen=True, slots=True)
class EndedSoak:
    """The verdict of an ended soak; ``amended`` where what came late changed it.

    solution: None where the site keeps no record of its solutions.
    """

    id: str
    start: Micros
    end: Micros
    outcome: Outcome
    reasons: tuple[Reason, ...]
    credited_seconds: float
    needed_seconds: float
    amended: bool
    solution: SolutionCheck | None = None


@dataclass(frozen=True, slots=True)
class SolutionPicture:
    """What is recorded of the solution in a basin.

    recorded: whether verdicts depend on it. terms: what it is judged against.
    lot: None where nothing is recorded to be in the basin. clocks: of the lot. topped_up: when last.
    strip: the newest strip of this solution. lacking: what a soak that began now would lack.
    """

    recorded: bool
    terms: Terms
    lot: SolutionLot | None
    clocks: Clocks
    topped_up: Micros | None
    strip: Strip | None
    lacking: tuple[Reason, ...]


@dataclass(frozen=True, slots=True)
class BasinPicture:
    """A basin: its solution's label, its lid (None = not known), its temperature and its soak.

    celsius: newest temperature, None where none was ever read or the sensor is silent.
    warm_enough: temperature - guard >= min_celsius; None where the temperature is not known.
    ended: the newest ended soaks, newest first.
    """

    id: str
    name: str
    station: str
    chemistry: str
    label_source: str
    needed_seconds: float
    min_celsius: float
    guard_celsius: float
    lid_closed: bool | None
    celsius: float | None
    celsius_at: Micros | None
    warm_enough: bool | None
    soak: SoakPicture | None
    ended: tuple[EndedSoak, ...]
    solution: SolutionPicture


@dataclass(frozen=True, slots=True)
class CordPicture:
    """One cord of a cart; on_hook None = not known. away: its probe is at a sink, in a basin or in a cabinet."""

    name: str
    on_hook: bool | None
    away: bool = False


@dataclass(frozen=True, slots=True)
class GelPicture:
    """An opened gel bottle; ``discard_on``: the first day on which it must not be used any more."""

    opened: date
    lot: str | None
    discard_on: date
    out_of_date: bool


@dataclass(frozen=True, slots=True)
class LeftOff:
    """A cord that has been off its hook since then, on a cart that stands and on which no exam was marked since."""

    cord: str
    since: Micros


@dataclass(frozen=True, slots=True)
class CarePicture:
    """How a cart is cared for.

    wipes_followed: whether the site follows wipe-downs. wiped_at: when it was last wiped down, None where nobody told.
    wipe_due_since: None where none is owed. wipe_due_next: when the next one will be asked for, None while one is owed
    and where none is to come. gel: None where nobody told of a bottle.
    plugged_in: None = not known. left_off: cords that may have been left lying.
    at_risk: what new probes for the cords that are off their hooks would cost, in ``currency``, as far as prices are
        known; None where none of them is.
    """

    wipes_followed: bool = False
    wiped_at: Micros | None = None
    wipe_due_since: Micros | None = None
    wipe_due_next: Micros | None = None
    gel: GelPicture | None = None
    plugged_in: bool | None = None
    left_off: tuple[LeftOff, ...] = ()
    at_risk: float | None = None
    currency: str = "EUR"


@dataclass(frozen=True, slots=True)
class CartPicture:
    """A cart; rolling None = not known."""

    id: str
    name: str
    rolling: bool | None
    cords: tuple[CordPicture, ...]
    care: CarePicture = CarePicture()


@dataclass(frozen=True, slots=True)
class RoomPicture:
    """A vapour sensor and its room: a trend, and for context what is published of the vapours that may be there.

    sensor: its id. ppm, measured, trend: None where they are not known; trend: of the last quarter of an hour.
    chemistries: of the basins of its station, else of all basins. limits: of what they consist of.
    air_changes_per_hour: None where the site does not say. clear_minutes: how long it takes at that until 99 % and
        99.9 % are gone, once nothing gives vapour off any more; empty where that is not known.
    """

    sensor: SensorId
    name: str
    ppm: float | None
    measured: Micros | None
    trend: Trend | None
    chemistries: tuple[str, ...]
    limits: tuple[VapourLimit, ...]
    air_changes_per_hour: float | None
    clear_minutes: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class ProbePicture:
    """A probe that is followed; ``standing`` as of the picture's time.

    cart, cart_name, cord: the cart that it hangs on, and its cord. price: None where the site does not say.
    confirmed: whether who told last where it is tells of now: a person who told its place, or a sensor that is heard.
    sensed: whether a sensor that is heard says so. elsewhere: by soak that can be claimed, where a sensor says that it
    was meanwhile.
    """

    id: str
    name: str
    cart: str
    cart_name: str
    cord: str
    internal: bool
    serial: str | None
    tag: str | None
    price: float | None
    standing: Standing
    confirmed: bool = True
    sensed: bool = False
    elsewhere: Mapping[str, tuple[Place, str]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class UnclaimedSoak:
    """An ended soak of which nobody knows the probe; ``claim_by``: until when it can be claimed."""

    soak: str
    basin: str
    start: Micros
    end: Micros
    outcome: Outcome
    claim_by: Micros


@dataclass(frozen=True, slots=True)
class SensorPicture:
    """A sensor's newest reading and its health: 'ok', 'never heard', 'silent', 'offline', or its troubles.

    thing_name: name of the thing that it belongs to, as on the wall; the thing's id where it has none.
    value, measured, arrived: of one and the same reading, the newest by measured time; None where it never spoke.
    """

    id: SensorId
    thing_name: str
    kind: SensorKind
    topic: str
    unit: str
    value: Value | None
    measured: Micros | None
    arrived: Micros | None
    timed: bool
    health: str


@dataclass(frozen=True, slots=True)
class AlertPicture:
    """An alert that is not over, or is hidden.

    id: '' of one that was hidden before people were ever told of it.
    acknowledged_by: who answered for it, None while nobody has. state: see ``State``.
    holds: whether its condition holds now. returned: since when it does not, None while it does.
    settles: it is over only when a person says what was done. asks: it is over only once somebody has answered, too.
    ends: what makes its condition end, as the rule says it; '' where it does not.
    aside_until, aside_by, aside_why: of one that is shelved or out of service.
    reminded: how often it asked anew.
    waits_since: since when it waits for an answer, None while it does not. handed_to: the role, by its name, that it
        was given to then, '' where it was given to nobody.
    """

    id: str
    rule: str
    subject: str
    priority: Priority
    text: str
    advice: str
    raised: Micros
    acknowledged_by: str | None
    acknowledged_at: Micros | None
    state: State = State.UNACKNOWLEDGED
    holds: bool = True
    returned: Micros | None = None
    settles: bool = False
    asks: bool = False
    ends: str = ""
    aside_until: Micros | None = None
    aside_by: str | None = None
    aside_why: str | None = None
    reminded: int = 0
    waits_since: Micros | None = None
    handed_to: str = ""


@dataclass(frozen=True, slots=True)
class OutPicture:
    """A thing's rule, or all its rules (None), that maintenance took out of service."""

    thing: str
    rule: str | None
    since: Micros
    who: str
    why: str


@dataclass(frozen=True, slots=True)
class Picture:
    """Everything at one instant of the engine's time.

    hearing: whether the gateway hears the broker; hearing_since: since when that is so.
    storing: whether the gateway can write to its disk.
    alerts: most urgent first, then oldest first.
    probes: empty where the site does not follow them. unclaimed: newest first.
    rooms: one for each vapour sensor.
    hidden: alerts that are shelved, suppressed or out of service, whether their condition holds or not.
    out: what maintenance took out of service. calls, roles: empty where the site has no routes.
    sound_paused_until: the walls are silent until then, None while they may sound.
    shelve_most_minutes: the longest that an alert may be shelved, by its priority. figures: every figure that can be
    changed, as it is in force.
    """

    at: Micros
    hearing: bool
    hearing_since: Micros | None
    storing: bool
    basins: tuple[BasinPicture, ...]
    carts: tuple[CartPicture, ...]
    sensors: tuple[SensorPicture, ...]
    alerts: tuple[AlertPicture, ...]
    probes: tuple[ProbePicture, ...] = ()
    unclaimed: tuple[UnclaimedSoak, ...] = ()
    rooms: tuple[RoomPicture, ...] = ()
    hidden: tuple[AlertPicture, ...] = ()
    out: tuple[OutPicture, ...] = ()
    calls: tuple[CallPicture, ...] = ()
    roles: tuple[RolePicture, ...] = ()
    sound_paused_until: Micros | None = None
    shelve_most_minutes: Mapping[Priority, float] = field(default_factory=lambda: dict.fromkeys(Priority, 480.0))
    figures: tuple[FigurePicture, ...] = ()
