"""Which things of the site an alert's subject belongs to, for whoever takes a thing out of service."""

from rules.board import Subject, SubjectKind
from rules.readings import SensorId
from rules.site import Site
from rules.soaks import basin_of


class Belonging:
    """Of one site file."""

    def __init__(self, site: Site) -> None:
        self._station_of = {basin.id: basin.station for basin in site.basin}
        things = (site.station, site.basin, site.cabinet, site.cart, site.probe)
        self._known = {thing.id for group in things for thing in group}
        self._known |= {sensor.id for sensor in site.sensors().values() if sensor.thing in self._known}

    def is_known(self, thing: str) -> bool:
        """Whether it can be taken out of service; the gateway's own two sensors cannot."""
        return thing in self._known

    def of(self, subject: Subject) -> frozenset[str]:
        """Ids of the subject and of all that it belongs to.

        A soak belongs to its basin, a basin to its station, a sensor to its thing. A probe belongs to nothing: that its
        cart is mended does not make it fit for use.
        """
        match subject.kind:
            case SubjectKind.BASIN:
                return self._with_station(subject.id)
            case SubjectKind.SOAK:
                return self._with_station(basin_of(subject.id))
            case SubjectKind.SENSOR | SubjectKind.ROOM:
                thing = SensorId(subject.id).partition("/")[0]
                return self._with_station(thing) | {subject.id}
            case SubjectKind.CART | SubjectKind.PROBE:
                return frozenset({subject.id})
            case SubjectKind.GATEWAY:
                return frozenset()

    def _with_station(self, thing: str) -> frozenset[str]:
        station = self._station_of.get(thing)
        return frozenset({thing} if station is None else {thing, station})
