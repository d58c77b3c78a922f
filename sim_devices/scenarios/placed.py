"""A scenario outside its test: its ward as a site file, and what it does in another ward."""

import tomli_w

from rules.ruleset import RuleBook
from rules.site import Site
from sim_devices.chance import Chance
from sim_devices.scenarios.mistakes import ScenarioError
from sim_devices.scenarios.scenario import Scenario
from sim_devices.scenarios.small import merged, small
from sim_devices.ward.first_deeds import first_deeds
from sim_devices.ward.refusal import DeedError, NoSuchError
from sim_devices.ward.ward import Ward


def site_text(scenario: Scenario) -> str:
    """A site file of the ward in which it takes place."""
    return tomli_w.dumps(merged(small(), scenario.tables.site))


def placed(scenario: Scenario, site: Site, book: RuleBook) -> Scenario:
    """The same in another ward, which is then as its own site file says.

    Raises:
        ScenarioError: something that it names is not there, or, where nobody lives there besides, cannot be done there.
    """
    elsewhere = scenario._replace(site=site, book=book)
    ward = Ward(site, book.labels, elsewhere.begins, Chance(0))
    for deed in first_deeds(ward):
        ward.do(elsewhere.begins, deed)
    for step in elsewhere.steps:
        try:
            ward.do(elsewhere.instant(step.at), step.deed)
        except DeedError as error:
            if elsewhere.tables.people is None or isinstance(error, NoSuchError):
                where = f"step {step.number + 1} of scenario '{scenario.name}' cannot be done at '{site.site.id}'"
                raise ScenarioError(f"{where}: {error}; leave SITE out to run it in its own ward") from error
    return elsewhere
