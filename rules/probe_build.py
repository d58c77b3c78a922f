"""From a site file to its probes and what they are judged by."""

from collections.abc import Mapping

from rules.build import MEMORY_MARGIN_SECONDS, Department
from rules.desk import Desk
from rules.health import Ears
from rules.probe import ProbeSetup, ProbeState, ProbeTracker
from rules.probe_terms import ProbeTerms
from rules.probes import Probes
from rules.readers import ReaderState
from rules.readings import SensorId, micros
from rules.ruleset import RuleBook
from rules.sharers import Sharers
from rules.site import Label, Probe, Site
from rules.thresholds import Thresholds
from rules.whereabouts import whereabouts


def probe_terms(site: Site, probe: Probe, labels: Mapping[str, Label], thresholds: Thresholds) -> ProbeTerms:
    """What a probe is judged by; ``labels`` by id, the site's own among them."""
    policy = site.reprocessing
    return ProbeTerms(
        internal=probe.internal,
        policy=policy,
        rinses={basin.id: labels[basin.label].rinses or policy.rinses for basin in site.basin},
        use_after=micros(thresholds.use_after_seconds),
        carry_within=micros(thresholds.carry_within_seconds),
    )


def build_probes(
    site: Site,
    book: RuleBook,
    desk: Desk,
    parts: Department,
    states: Mapping[str, ProbeState],
    readers: Mapping[SensorId, ReaderState],
    ears: Ears,
) -> Probes | None:
    """The probes of a site with the states given, all described on the board; None where they are not followed."""
    if not site.reprocessing.tracked:
        return None
    sharers = Sharers()
    trackers = {p.id: ProbeTracker(_setup(site, p, book), desk, sharers, states.get(p.id)) for p in site.probe}
    for tracker in trackers.values():
        tracker.describe()
    where = whereabouts(site, book.thresholds.silent_reports, readers, ears)
    present = book.thresholds.present
    return Probes(site, book.labels, desk, trackers, sharers, where, parts.carts, parts.basins, present)


def _setup(site: Site, probe: Probe, book: RuleBook) -> ProbeSetup:
    return ProbeSetup(
        probe=probe,
        cart_name=next(cart.name for cart in site.cart if cart.id == probe.cart),
        terms=probe_terms(site, probe, book.labels, book.thresholds),
        memory=micros(site.limits.max_behind_seconds + MEMORY_MARGIN_SECONDS),
        knock_above_mps2=book.thresholds.knock_above_mps2,
    )
