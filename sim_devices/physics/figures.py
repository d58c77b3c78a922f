"""Figures of what happens by itself in a ward."""

from rules.part import Part
from sim_devices.physics.fall import FALL, FallFigures
from sim_devices.physics.heat import HEAT, HeatFigures
from sim_devices.physics.vapour import VAPOUR, VapourFigures


class PhysicsFigures(Part):
    """All of them, by what they are of."""

    heat: HeatFigures = HEAT
    vapour: VapourFigures = VAPOUR
    fall: FallFigures = FALL


PHYSICS = PhysicsFigures()
"""As usual."""
