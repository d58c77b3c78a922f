"""Commands for engineers: simulators, scenarios, tuning. What they need is much, and loaded when they are called."""

import click

from gateway.cli_scenarios import scenario, scenarios
from gateway.cli_simulate import hand, simulate
from gateway.cli_tune import tune

COMMANDS: tuple[click.Command, ...] = (simulate, hand, scenarios, scenario, tune)
"""Added to the command line by gateway/cli.py."""
