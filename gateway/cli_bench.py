"""Commands for engineers: simulators, scenarios, tuning. What they need is much, and loaded when they are called."""

import click

COMMANDS: tuple[click.Command, ...] = ()
"""Added to the command line by gateway/cli.py."""
