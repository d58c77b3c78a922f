"""What `sinkside verify` says on the terminal."""

import click

from gateway.record_check import RecordCheck
from gateway.replay import Verification


def tell_record(found: RecordCheck) -> bool:
    """Whether every row is as it was written, after saying so."""
    click.echo(f"record {found.tree.size}:{found.tree.root.hex()}")
    for misfit in found.misfits:
        click.echo(misfit)
    click.echo("Every row is as it was written." if found.is_sound else "The record is NOT as it was written.")
    return found.is_sound


def tell_replay(found: Verification) -> bool:
    """Whether every event follows from its inputs, after saying so."""
    click.echo(f"{found.inputs} inputs, {found.events} events, {found.epochs} site files or rule sets")
    if found.is_sound:
        click.echo("Every event comes out as it was recorded.")
        return True
    for difference in found.differences:
        click.echo(f"event {difference.seq}:\n  recorded {difference.recorded}\n  replayed {difference.replayed}")
    click.echo("The journal does NOT come out as it was recorded: it was changed, or judged by another program.")
    return False
