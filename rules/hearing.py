"""Whether anything is heard at all: the gateway's link to its broker, the devices' links, and sensors gone silent."""

from rules.alerts import Alerts
from rules.build import Department
from rules.cart import CartTracker
from rules.desk import Desk
from rules.exposure import Span
from rules.health import Ears, SensorSetup, Watch
from rules.probes import Probes
from rules.readings import Micros, Reading, SensorId, SensorKind
from rules.steadiness import GATEWAY, Steadiness


class Hearing:
    """Tells every tracker what is not known any more, and what is heard again."""

    def __init__(
        self, parts: Department, desk: Desk, ears: Ears, alerts: Alerts, steadiness: Steadiness, probes: Probes | None
    ) -> None:
        self._parts = parts
        self._desk = desk
        self._ears = ears
        self._alerts = alerts
        self._steadiness = steadiness
        self._probes = probes

    def gateway_link(self, reading: Reading) -> None:
        ears, hearing, now = self._ears, bool(reading.value), reading.arrived
        if hearing == ears.hearing and ears.since is not None:
            return
        if ears.since is not None and not hearing:
            self._steadiness.lost(now)
        ears.turn(now, hearing=hearing)
        self._desk.board.publish(GATEWAY, "hearing", hearing)
        if hearing:
            self._hear_again(now)
        else:
            ears.last_word = self._last_word(now)
            self._hold()

    def _last_word(self, now: Micros) -> Micros:
        """When a sensor was last heard: that the connection is lost is noticed late."""
        heard = (w.state.arrived for w in self._parts.watches.values() if w.setup.thing != GATEWAY.id)
        return max((arrived for arrived in heard if arrived is not None), default=now)

    def _hold(self) -> None:
        """Nothing that ripens while nothing is heard is told as if it had been seen."""
        for cart in self._parts.carts.values():
            cart.hold()
        self._alerts.hold()

    def _hear_again(self, now: Micros) -> None:
        for watch in self._parts.watches.values():
            watch.listen(now)
        if self._ears.last_word is not None:
            for basin in self._parts.basins.values():
                basin.hear_again(Span(self._ears.last_word, now))
        self._desk.board.touch()

    def gateway_store(self, reading: Reading) -> None:
        self._ears.storing = bool(reading.value)
        self._desk.board.publish(GATEWAY, "storing", self._ears.storing)

    def thing_link(self, link: Watch, reading: Reading) -> None:
        online = bool(reading.value)
        link.own_link(online=online)
        for watch in self._parts.of_thing[link.setup.thing]:
            watch.thing_link(reading.arrived, online=online)

    def fall_silent(self, whom: str, due: Micros) -> None:
        watch = self._parts.watches[SensorId(whom)]
        if watch.fall_due(due):
            self.lose(watch.setup, due)

    def lose(self, setup: SensorSetup, now: Micros) -> None:
        """What a sensor watches is not known any more."""
        if setup.id.endswith("/temperature") and setup.thing in self._parts.basins:
            self._parts.basins[setup.thing].facts.temperature_lost()
        if setup.thing in self._parts.carts:
            self._lose_at_cart(self._parts.carts[setup.thing], setup)
        if self._probes is not None:
            self._probes.lose(setup, now)
        if setup.kind is SensorKind.VAPOUR:
            self._parts.vapours[setup.id].lost()

    def _lose_at_cart(self, cart: CartTracker, setup: SensorSetup) -> None:
        if setup.id.endswith("/motion"):
            cart.motion_lost()
        elif setup.kind is SensorKind.HOOK:
            cart.hook_lost(setup.id.rpartition("/hook-")[2])
        elif setup.kind is SensorKind.MAINS:
            cart.mains_lost()
