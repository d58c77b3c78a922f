"""What is done at basins and in their rooms."""

from datetime import timedelta

from rules.commands import Discard, StripRead
from rules.commands import Pour as PourTold
from rules.readings import SECOND, Micros, SensorKind, StripResult, micros
from sim_devices.ward import deeds
from sim_devices.ward.crew import TECHNICIAN
from sim_devices.ward.refusal import DeedError
from sim_devices.ward.spoken import day_of, end_of_day, enter, press
from sim_devices.ward.state import BasinState, Liquid
from sim_devices.ward.things import Things


def open_lid(things: Things, at: Micros, deed: deeds.OpenLid) -> None:
    """The lid is lifted."""
    _turn_lid(things, at, deed.basin, closed=False)


def close_lid(things: Things, at: Micros, deed: deeds.CloseLid) -> None:
    """The lid is closed."""
    _turn_lid(things, at, deed.basin, closed=True)


def _turn_lid(things: Things, at: Micros, name: str, *, closed: bool) -> None:
    basin = things.basin(name)
    if basin.lid_closed.newest is closed:
        return
    basin.lid_closed.set(at, closed)
    basin.heat.lid(at, closed=closed)
    _tell_air(things, at, name)


def _tell_air(things: Things, at: Micros, name: str) -> None:
    """The air of its room feels how many basins with solution stand open."""
    station = things.station_of[name]
    basins = (things.basins[other] for other in things.neighbours[station])
    is_open = [b for b in basins if b.liquid.newest is not None and not b.lid_closed.newest]
    things.rooms[station].vapour.open_lids(at, len(is_open))


def pour(things: Things, at: Micros, deed: deeds.Pour) -> None:
    """Fresh solution takes the place of what was in the basin."""
    basin = things.basin(deed.basin)
    demand_open(basin, deed.basin)
    was = basin.liquid.newest
    label = things.labels[deed.basin].id
    lot = deed.lot or _next_lot(things, deed.basin, at)
    printed, opened = day_of(things.site, at, -deed.expired_days), day_of(things.site, at)
    bottle_days = int(things.figures.bottle_days)
    expires = end_of_day(things.site, min(printed, opened + timedelta(days=bottle_days)))
    basin.liquid.set(at, Liquid(lot, label, at, expires))
    basin.heat.poured(at, deed.celsius)
    _tell_air(things, at, deed.basin)
    if deed.told_after_seconds is None:
        return
    arrived = Micros(at + micros(deed.told_after_seconds))
    if was is not None:
        enter(things.told, Discard(arrived=arrived, who=TECHNICIAN, basin=deed.basin, measured=Micros(at - SECOND)))
    enter(
        things.told,
        PourTold(
            arrived=arrived,
            who=TECHNICIAN,
            basin=deed.basin,
            measured=at,
            lot=lot,
            label=label,
            printed_expiry=printed,
            opened=opened,
            opened_days=bottle_days,
        ),
    )


def _next_lot(things: Things, basin: str, at: Micros) -> str:
    """A number of its own: no basin is poured twice in one second."""
    return f"{basin}-{(at - things.epoch) // SECOND}"


def spend(things: Things, at: Micros, deed: deeds.Spend) -> None:
    """The solution falls below its least concentration."""
    basin = things.basin(deed.basin)
    basin.liquid.set(at, _solution(basin, deed.basin)._replace(strong=False))


def read_strip(things: Things, at: Micros, deed: deeds.ReadStrip) -> None:
    """A strip is read: by a person who enters it, and by a strip reader where the basin has one."""
    basin = things.basin(deed.basin)
    is_strong = _solution(basin, deed.basin).strong
    result = deed.result or (StripResult.PASS if is_strong else StripResult.FAIL)
    basin.strips.append((at, result.value))
    reader = things.buttons.get((deed.basin, SensorKind.STRIP))
    if reader is not None:
        press(things.pressed[reader], at, result.value)
    if deed.told_after_seconds is not None:
        enter(
            things.told,
            StripRead(
                arrived=Micros(at + micros(deed.told_after_seconds)),
                who=TECHNICIAN,
                basin=deed.basin,
                measured=at,
                result=result,
                lot="STRIPS",
                expiry=day_of(things.site, at, things.figures.strip_days),
            ),
        )


def set_celsius(things: Things, at: Micros, deed: deeds.SetCelsius) -> None:
    """Ice or warm water."""
    basin = things.basin(deed.basin)
    _solution(basin, deed.basin)
    basin.heat.poured(at, deed.celsius)


def heater(things: Things, at: Micros, deed: deeds.Heater) -> None:
    """The heater fails, or works again."""
    things.basin(deed.basin).heat.heater(at, works=deed.works)


def room_celsius(things: Things, at: Micros, deed: deeds.RoomCelsius) -> None:
    """The air of a room, and so that around its basins, takes a temperature."""
    things.room(deed.station).celsius.set(at, deed.celsius)
    for name in things.neighbours[deed.station]:
        things.basins[name].heat.room(at, deed.celsius)


def spill(things: Things, at: Micros, deed: deeds.Spill) -> None:
    """Solution is spilt in a room."""
    things.room(deed.station).vapour.spilt(at, deed.ppm)


def demand_open(basin: BasinState, name: str) -> None:
    """Nothing comes into a basin or out of it under a closed lid.

    Raises:
        DeedError: it is closed.
    """
    if basin.lid_closed.newest:
        raise DeedError(f"the lid of basin '{name}' is closed; do 'open-lid' first")


def _solution(basin: BasinState, name: str) -> Liquid:
    liquid = basin.liquid.newest
    if liquid is None:
        raise DeedError(f"basin '{name}' is empty; do 'pour' first")
    return liquid
