"""Which chemistry a probe stands: the limits of its maker against the label of a basin.

What a probe stands comes from its maker alone: the immersion test of IEC 60529 is made in fresh water.
"""

from collections.abc import Iterator, Mapping

from rules.part import meant
from rules.site import Label, Probe, Site
from rules.verdict import Reason, Verdict


def unfit(probe: Probe, label: Label) -> Iterator[tuple[str, str]]:
    """Why the probe must not go into a solution of that label: the limit's key and a clause for each reason."""
    minutes, celsius = probe.max_soak_minutes, probe.max_celsius
    if minutes is not None and label.min_minutes > minutes:
        yield "max_soak_minutes", f"'{label.id}' needs {label.min_minutes:g} min, the probe stands {minutes:g} min"
    if celsius is not None and label.min_celsius > celsius:
        yield "max_celsius", f"'{label.id}' needs {label.min_celsius:g} °C, the probe stands {celsius:g} °C"
    if probe.chemistries and label.chemistry not in probe.chemistries:
        yield "chemistries", f"'{label.id}' is {label.chemistry}, which is none of those that the probe stands"


def with_pairing(verdict: Verdict, probe: Probe, label: Label) -> Verdict:
    """The verdict on the probe's share of a soak in a solution of that label, which its maker may not allow."""
    return verdict.lacking(Reason.NOT_ALLOWED) if any(unfit(probe, label)) else verdict


def pairing_problems(site: Site, labels: Mapping[str, Label]) -> Iterator[str]:
    """A sentence for each basin of a probe whose label asks more than the probe stands."""
    basins = {basin.id: labels.get(basin.label) for basin in site.basin}
    known = {label.chemistry for label in labels.values()}
    for probe in site.probe:
        for name in probe.chemistries:
            if name not in known:
                yield f"probe '{probe.id}', key 'chemistries': no label names '{name}'; {meant(name, known)}"
        for basin in probe.basins:
            label = basins.get(basin)
            for key, why in unfit(probe, label) if label is not None else ():
                mend = f"leave basin '{basin}' out of its basins, or correct the limit"
                yield f"probe '{probe.id}', key '{key}': {why}; {mend}"


def unchecked_probes(site: Site) -> list[str]:
    """Names of the probes of which no pairing can be checked, as the file does not say where they are soaked."""
    return [probe.name for probe in site.probe if not probe.basins]
