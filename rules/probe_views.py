"""Whether what is shown of a probe's place is of now, and whose word it is."""

from collections.abc import Mapping

from rules.health import Watch
from rules.probe import ProbeTracker
from rules.probe_words import NOWHERE
from rules.readings import Micros, SensorId


def is_confirmed(
    tracker: ProbeTracker, named: tuple[Micros, SensorId] | None, watches: Mapping[SensorId, Watch]
) -> bool:
    """Whether its place is known of now: by the sensor that named it last, or by a person who told it since."""
    if named is None:
        return True
    at, sensor = named
    newest = tracker.state.evidence.sightings[-1:]
    return any(seen.who is not None and seen.at >= at for seen in newest) or watches[sensor].tells_of_now()


def is_sensed(tracker: ProbeTracker, named: tuple[Micros, SensorId] | None, watches: Mapping[SensorId, Watch]) -> bool:
    """Whether a sensor that is heard says that it is where it is."""
    newest = tracker.state.evidence.sightings[-1:]
    by_sensor = any(seen.who is None and seen.place not in NOWHERE for seen in newest)
    return named is not None and by_sensor and watches[named[1]].tells_of_now()
