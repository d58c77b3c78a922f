"""What is done with probes, and what becomes of them."""

from rules.commands import Contact as ContactTold
from rules.commands import Inspected, Placed, StepsDone, Vouch
from rules.probe_words import Place, Step
from rules.readings import Micros, SensorId, SensorKind, micros
from sim_devices.physics.fall import peak_mps2
from sim_devices.ward import deeds
from sim_devices.ward.crew import ENGINEER, EXAMINER, TECHNICIAN
from sim_devices.ward.probe_moves import move
from sim_devices.ward.refusal import DeedError
from sim_devices.ward.spoken import enter, press
from sim_devices.ward.state import Contact, Knock, ProbeState, Stay, Treatment
from sim_devices.ward.things import Things, named


def touch(things: Things, at: Micros, deed: deeds.Touch) -> None:
    """A probe in use touches a patient; that is told with the cart's button, by an entry, or not at all."""
    probe = _in_hands(things, deed.probe)
    cart = things.homes[deed.probe].cart
    button = things.buttons.get((cart, SensorKind.CONTACT))
    if deed.marked == "button" and button is None:
        raise DeedError(f"cart '{cart}' has no button for contacts; expected marked = 'entry' or 'not'")
    probe.contacts.append(Contact(at, deed.surface))
    told = Micros(at + micros(deed.told_after_seconds))
    if deed.marked == "button" and button is not None:
        press(things.pressed[button], told, deed.surface.value)
    elif deed.marked == "entry":
        enter(
            things.told,
            ContactTold(arrived=told, who=EXAMINER, probe=deed.probe, measured=at, surface=deed.surface),
        )


def lay_down(things: Things, at: Micros, deed: deeds.LayDown) -> None:
    """The exam is over, and the probe is left lying."""
    _in_hands(things, deed.probe).laid_down.append(at)


def _in_hands(things: Things, name: str) -> ProbeState:
    probe = things.probe(name)
    place = probe.stay.newest.place
    if place is not Place.IN_HANDS:
        raise DeedError(f"probe '{name}' is not in hands but at: {place.value}; do 'take-down' or 'bring' first")
    return probe


def bring(things: Things, at: Micros, deed: deeds.Bring) -> None:
    """A probe is brought to a place."""
    things.probe(deed.probe)
    stay = _stay(things, deed)
    claimed_after = None if deed.claimed_after_seconds is None else micros(deed.claimed_after_seconds)
    move(things, at, deed.probe, stay, claimed_after)
    if deed.told_after_seconds is not None:
        enter(
            things.told,
            Placed(
                arrived=Micros(at + micros(deed.told_after_seconds)),
                who=TECHNICIAN,
                probe=deed.probe,
                measured=at,
                place=stay.place,
                thing=stay.thing or None,
            ),
        )


def _stay(things: Things, deed: deeds.Bring) -> Stay:
    """Where it is brought to.

    Raises:
        DeedError: there is no such place.
    """
    match deed.place:
        case Place.HOOK:
            return Stay(deed.place, things.homes[deed.probe].cart)
        case Place.IN_HANDS:
            return Stay(deed.place)
        case Place.SINK:
            things.room(deed.thing)
        case Place.BASIN:
            things.basin(deed.thing)
        case Place.CABINET:
            named(things.cabinets, "cabinet", deed.thing)
    return Stay(deed.place, deed.thing, deed.read)


def treat(things: Things, at: Micros, deed: deeds.Treat) -> None:
    """Steps of reprocessing are done."""
    probe = things.probe(deed.probe)
    if Step.SOAKED in deed.steps:
        raise DeedError(f"probe '{deed.probe}' soaks by being in a basin; do 'bring', and leave 'soaked' out of steps")
    probe.treatments.extend(Treatment(at, step, deed.times) for step in deed.steps)
    if deed.told_after_seconds is not None:
        arrived = Micros(at + micros(deed.told_after_seconds))
        enter(
            things.told,
            StepsDone(
                arrived=arrived, who=TECHNICIAN, probe=deed.probe, measured=at, steps=deed.steps, times=deed.times
            ),
        )


def drop(things: Things, at: Micros, deed: deeds.Drop) -> None:
    """A probe falls, or its holder is knocked; the holder's shock sensor feels it where there is one."""
    things.probe(deed.probe).knocks.append(Knock(at, deed.height_m))
    home = things.homes[deed.probe]
    sensor = SensorId(f"{home.cart}/shock-{home.cord}")
    if sensor in things.pressed:
        press(things.pressed[sensor], at, round(peak_mps2(deed.height_m, things.physics.fall), 1))


def inspect(things: Things, at: Micros, deed: deeds.Inspect) -> None:
    """A probe is looked over, and found sound."""
    things.probe(deed.probe).inspected.append(at)
    if deed.told_after_seconds is not None:
        arrived = Micros(at + micros(deed.told_after_seconds))
        enter(things.told, Inspected(arrived=arrived, who=EXAMINER, probe=deed.probe, measured=at, sound=True))


def vouch_for(things: Things, at: Micros, deed: deeds.VouchFor) -> None:
    """Somebody answers for a probe, by the first of the roles that may."""
    things.probe(deed.probe).vouched.append(at)
    roles = things.site.reprocessing.vouch_roles
    if deed.told_after_seconds is not None and roles:
        enter(
            things.told,
            Vouch(
                arrived=Micros(at + micros(deed.told_after_seconds)),
                who=ENGINEER,
                probe=deed.probe,
                measured=at,
                role=roles[0],
                why="looked over and reprocessed before",
            ),
        )
