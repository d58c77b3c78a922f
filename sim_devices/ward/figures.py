"""Figures of a ward as a whole."""

from sim_devices.parameters import Parameters, figure


class WardFigures(Parameters):
    """What a ward begins with, and how long what happens in an instant lasts."""

    room_celsius: float = figure(21, "the air around the basins when a ward begins", unit="Cel", low=-20, high=60)
    air_changes_per_hour: float = figure(
        6, "of a room with basins, where the site file does not tell", unit="1/h", low=0.1, high=100
    )
    bump_seconds: float = figure(
        0.1,
        "how long a bump shakes a parked cart",
        unit="s",
        low=0.01,
        high=10,
        source="ours; by the hardest habitual bump a free cart gains 0.4 m/s, while 75 kg at a walk of 1.4 m/s give"
        " 140 kg 0.5 m/s (conservation of momentum, nothing springs back)",
    )
    bottle_days: float = figure(30, "how long an opened bottle of solution may be used", unit="d", low=0, high=1000)
    strip_days: float = figure(60, "how long the strips of a bottle may be used yet", unit="d", low=0, high=1000)


WARD_FIGURES = WardFigures()
