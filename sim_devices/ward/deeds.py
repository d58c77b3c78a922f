"""Everything that can be done in a ward: by its people, by a scenario, by hand from the bench, or by bad luck.

Nothing else changes a ward, so the list of its deeds, each with its time, is all that ever happened there.
"""

from typing import Annotated, Literal

from pydantic import Field, TypeAdapter

from rules.part import Part, Word
from rules.probe_words import Place, Step, Surface
from rules.readings import SensorId, StripResult
from rules.site import Slug

Celsius = Annotated[float, Field(ge=-20, le=100)]
Told = Annotated[float, Field(ge=0, le=86_400)] | None
"""After how many seconds somebody enters what was done; None: nobody ever does."""


class _AtBasin(Part):
    basin: Slug


class OpenLid(_AtBasin):
    """The lid is lifted."""

    do: Literal["open-lid"] = "open-lid"


class CloseLid(_AtBasin):
    """The lid is closed."""

    do: Literal["close-lid"] = "close-lid"


class Pour(_AtBasin):
    """The basin is emptied, if there is anything in it, and fresh solution is poured.

    celsius: how warm it comes. lot: '' = a number of its own. expired_days: how long its printed expiry is over;
    negative: so many days are left.
    """

    do: Literal["pour"] = "pour"
    celsius: Celsius = 21
    lot: Annotated[str, Field(max_length=40)] = ""
    expired_days: Annotated[int, Field(ge=-1000, le=1000)] = -365
    told_after_seconds: Told = 5


class Spend(_AtBasin):
    """The solution is diluted or used up: it falls below its least concentration, and strips fail from now on."""

    do: Literal["spend"] = "spend"


class ReadStrip(_AtBasin):
    """A concentration strip is dipped and read.

    result: what is read; left out, what is true.
    """

    do: Literal["read-strip"] = "read-strip"
    result: Word[StripResult] | None = None
    told_after_seconds: Told = 5


class SetCelsius(_AtBasin):
    """Ice or warm water: the solution takes a temperature at once, and goes on from there."""

    do: Literal["set-celsius"] = "set-celsius"
    celsius: Celsius


class Heater(_AtBasin):
    """The heater fails, or works again."""

    do: Literal["heater"] = "heater"
    works: bool


class RoomCelsius(Part):
    """The air around the basins of a station takes a temperature."""

    do: Literal["room-celsius"] = "room-celsius"
    station: Slug
    celsius: Celsius


class Spill(Part):
    """Solution is spilt in the room of a station."""

    do: Literal["spill"] = "spill"
    station: Slug
    ppm: Annotated[float, Field(gt=0, le=1000)] = 1


class _AtCart(Part):
    cart: Slug


class Roll(_AtCart):
    """The cart is pushed off."""

    do: Literal["roll"] = "roll"


class Halt(_AtCart):
    """The cart comes to rest."""

    do: Literal["halt"] = "halt"


class Bump(_AtCart):
    """Somebody runs into the parked cart, or leans on it."""

    do: Literal["bump"] = "bump"
    mps2: Annotated[float, Field(gt=0, le=160)] = 3


class Mains(_AtCart):
    """The mains plug is put in, or pulled."""

    do: Literal["mains"] = "mains"
    plugged_in: bool


class TakeDown(_AtCart):
    """A cord is taken off its hook."""

    do: Literal["take-down"] = "take-down"
    cord: Slug


class HangUp(_AtCart):
    """A cord is hung on its hook."""

    do: Literal["hang-up"] = "hang-up"
    cord: Slug


class WipeDown(_AtCart):
    """The cart's surfaces are wiped down. by_button: told with the cart's button, where it has one."""

    do: Literal["wipe-down"] = "wipe-down"
    by_button: bool = True
    told_after_seconds: Told = 5


class OpenGel(_AtCart):
    """A multi-dose gel bottle is put on the cart in place of the one before; it was opened so many days ago."""

    do: Literal["open-gel"] = "open-gel"
    days_ago: Annotated[int, Field(ge=0, le=1000)] = 0
    told_after_seconds: Told = 5


class _WithProbe(Part):
    probe: Slug


class Touch(_WithProbe):
    """A probe in use touches a patient. For how long: until it is laid down, or next brought somewhere or hung up.

    marked: how the contact is told; 'not': nobody does.
    """

    do: Literal["touch"] = "touch"
    surface: Word[Surface]
    marked: Literal["button", "entry", "not"] = "entry"
    told_after_seconds: Annotated[float, Field(ge=0, le=86_400)] = 20


class LayDown(_WithProbe):
    """The exam is over, and the probe in hands is left lying, as on the bed."""

    do: Literal["lay-down"] = "lay-down"


Destination = Literal[Place.HOOK, Place.IN_HANDS, Place.SINK, Place.BASIN, Place.CABINET]
"""Where a probe can be brought."""


class Bring(_WithProbe):
    """A probe is brought to a place: to its hook, in hands, to a sink, into a basin, into a cabinet.

    thing: id of the station, basin or cabinet; '' for hook and hands. read: whether a tag reader there sees it.
    claimed_after_seconds: where no tag was read at a basin, when somebody claims the soak, counted from its end.
    told_after_seconds: when somebody enters that it is there.
    """

    do: Literal["bring"] = "bring"
    place: Destination
    thing: Annotated[str, Field(max_length=40)] = ""
    read: bool = True
    claimed_after_seconds: Told = None
    told_after_seconds: Told = None


class Treat(_WithProbe):
    """Steps of reprocessing are done. times: how often, as in rinses."""

    do: Literal["treat"] = "treat"
    steps: Annotated[tuple[Word[Step], ...], Field(strict=False, min_length=1, max_length=6)]
    times: Annotated[int, Field(ge=1, le=20)] = 1
    told_after_seconds: Told = 5


class Drop(_WithProbe):
    """A probe falls, or its holder is knocked as hard as by a fall from there."""

    do: Literal["drop"] = "drop"
    height_m: Annotated[float, Field(gt=0, le=3)] = 0.8


class Inspect(_WithProbe):
    """A probe is looked over after a knock, and found sound."""

    do: Literal["inspect"] = "inspect"
    told_after_seconds: Told = 5


class VouchFor(_WithProbe):
    """Somebody answers for it, as when it is taken into service."""

    do: Literal["vouch-for"] = "vouch-for"
    told_after_seconds: Told = 0


class _OfDevice(Part):
    thing: Annotated[str, Field(max_length=40)]


class Power(_OfDevice):
    """A device loses power, or has it again. thing: '' = all of them."""

    do: Literal["power"] = "power"
    on: bool


class Network(_OfDevice):
    """A device's radio is out of reach, or in reach again. thing: '' = all of them."""

    do: Literal["network"] = "network"
    up: bool


class SetClock(_OfDevice):
    """A device's clock is set wrong by so much; 0: right again."""

    do: Literal["set-clock"] = "set-clock"
    ahead_seconds: Annotated[float, Field(ge=-604_800, le=604_800)]


class Charge(_OfDevice):
    """A device's battery has so much left."""

    do: Literal["charge"] = "charge"
    percent: Annotated[float, Field(ge=0, le=100)]


class Defect(Part):
    """A sensor is broken in one way, or sound again.

    how: 'silent' - it says nothing; 'stuck' - it repeats the last value; 'off' - it measures ``by`` too much, in the
        unit of its kind; 'loses' - it misses the share ``by`` of what it should see, as a reader that loses tags;
        'spoilt' - the share ``by`` of its messages arrives as rubbish; 'sound'.
    """

    do: Literal["defect"] = "defect"
    sensor: SensorId
    how: Literal["silent", "stuck", "off", "loses", "spoilt", "sound"]
    by: float = 0


Deed = Annotated[
    OpenLid
    | CloseLid
    | Pour
    | Spend
    | ReadStrip
    | SetCelsius
    | Heater
    | RoomCelsius
    | Spill
    | Roll
    | Halt
    | Bump
    | Mains
    | TakeDown
    | HangUp
    | WipeDown
    | OpenGel
    | Touch
    | LayDown
    | Bring
    | Treat
    | Drop
    | Inspect
    | VouchFor
    | Power
    | Network
    | SetClock
    | Charge
    | Defect,
    Field(discriminator="do"),
]

DEED: TypeAdapter[Deed] = TypeAdapter(Deed)
"""Reads a deed from TOML, JSON or a form."""
