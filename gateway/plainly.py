"""Commands whose errors are told in a sentence, without a traceback."""

import os
import signal
import sys
from collections.abc import Callable
from functools import wraps
from typing import ParamSpec, TypeVar

import click

from gateway.schema import SqliteError

CUT_OFF = 128 + signal.SIGPIPE
"""Exit code of a command whose reader has gone, as in ``sinkside replay ... | head``; what a shell reports for it."""

P = ParamSpec("P")
R = TypeVar("R")


def telling(*errors: type[Exception]) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Makes a command tell these errors, which a user can mend, and those of files and of the journal, plainly."""

    def plainly(command: Callable[P, R]) -> Callable[P, R]:
        @wraps(command)
        def told(*args: P.args, **kwargs: P.kwargs) -> R:
            try:
                return command(*args, **kwargs)
            except errors as error:
                raise click.ClickException(str(error)) from error
            except SqliteError as error:
                raise click.ClickException(
                    f"The journal cannot be read ({error}): end other programs that use it; if it is damaged, restore a"
                    " backup or name a new data folder."
                ) from error
            except BrokenPipeError:
                speak_to_nobody()
                sys.exit(CUT_OFF)
            except OSError as error:
                what = f"{error.filename}: {error.strerror}" if error.filename else error.strerror or str(error)
                raise click.ClickException(
                    f"{what}; look whether it is there, whether it is a file or a folder, and who may use it."
                ) from error

        return told

    return plainly


def speak_to_nobody() -> None:
    """The reader of our words has gone: what is still to be said goes nowhere, instead of failing at the exit."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
