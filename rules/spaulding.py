"""What a contact demands: Spaulding's classes applied to transducers, with the switches on which sources differ."""

from rules.policy import ReprocessingPolicy
from rules.probe_words import Level, Surface


def level_owed(
    surface: Surface, *, covered: bool | None, percutaneous: bool, internal: bool, policy: ReprocessingPolicy
) -> Level:
    """The least level after a contact.

    Intact skin is non-critical: cleaning, and low-level disinfection where policy asks (CDC 2008; AIUM 2022). Mucosa,
    non-intact skin, blood and body fluid are semi-critical: high-level disinfection, also when a cover was used (CDC
    2008, secondary; AIUM 2022). Sterile tissue is critical: sterilisation, by the site's policy (CDC 2008, secondary).
    An internal probe is at least semi-critical, whatever it was used for.

    Args:
        surface: what was touched.
        covered: whether a cover was on it; None, not told, counts as none.
        percutaneous: whether a needle was led beside it through the skin.
        internal: whether it is an intracavity probe.
        policy: of the site.
    """
    level = _of_surface(surface, policy)
    if percutaneous and surface is Surface.SKIN:
        level = stricter(level, Level(policy.covered_percutaneous) if covered else Level.HIGH)
    return stricter(level, Level.HIGH) if internal else level


def _of_surface(surface: Surface, policy: ReprocessingPolicy) -> Level:
    match surface:
        case Surface.SKIN:
            return Level.LOW if policy.low_level_after_skin else Level.CLEANING
        case Surface.MUCOSA | Surface.BLOOD:
            return Level.HIGH
        case Surface.STERILE:
            return Level.STERILISATION if policy.critical == "sterilisation" else Level.HIGH


def stricter(one: Level, other: Level) -> Level:
    """The stricter of two."""
    return max(one, other, key=lambda level: level.rank)
