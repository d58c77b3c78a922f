"""Commands for engineers: simulators, scenarios, tuning. What they need is much, and loaded when they are called."""

import click

from gateway.cli_simulate import hand, simulate

COMMANDS: tuple[click.Command, ...] = (simulate, hand)
"""Added to the command line by gateway/cli.py."""
