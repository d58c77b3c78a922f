"""The question of a load report as options of a command."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps
from io import StringIO
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

import click

from gateway.csv_text import write_table
from gateway.load_log import LoadQuestion, RecordedLoad
from gateway.load_table import LOAD_COLUMNS, load_rows
from gateway.load_told import as_json, lines
from gateway.visible import visible
from gateway.when import instant_of
from rules.load import Which

R = TypeVar("R")


@dataclass(frozen=True, slots=True)
class LoadAsked:
    """The options as they were given; None where one was not. form: 'text', 'csv' or 'json'."""

    since: str | None
    until: str | None
    role: str | None
    rule: str | None
    form: str

    def question(self, zone: ZoneInfo) -> LoadQuestion:
        """What is asked; times without an offset are local to ``zone``.

        Raises:
            WhenError: a time that cannot be used.
        """
        since, until = (None if at is None else instant_of(at, zone) for at in (self.since, self.until))
        return LoadQuestion(since, until, Which(self.rule, self.role))

    def written(self, found: RecordedLoad) -> str:
        """The answer in the form asked for."""
        if self.form == "json":
            return as_json(found)
        if self.form == "text":
            return "\n".join(map(visible, lines(found)))
        out = StringIO(newline="")
        write_table(out, LOAD_COLUMNS, load_rows(found))
        return out.getvalue().removesuffix("\r\n")


def load_options(command: Callable[..., R]) -> Callable[..., R]:
    """Adds the options to a command, which takes them as ``asked``."""

    @click.option("--from", "since", metavar="TIME", help="From then on  [default: 30 days before the end]")
    @click.option("--until", metavar="TIME", help="Until then  [default: the end of the record]")
    @click.option("--role", metavar="ROLE", help="Only what that role was paged of, such as 'charge-nurse'.")
    @click.option("--rule", metavar="RULE", help="Only the alerts of that rule, such as 'cord-left-off'.")
    @click.option(
        "--as",
        "form",
        type=click.Choice(["text", "csv", "json"]),
        default="text",
        show_default=True,
        help="To read, for a spreadsheet, or for programs (times in microseconds).",
    )
    @wraps(command)
    def asking(
        *args: Any, since: str | None, until: str | None, role: str | None, rule: str | None, form: str, **others: Any
    ) -> R:
        return command(*args, asked=LoadAsked(since, until, role, rule, form), **others)

    return asking
