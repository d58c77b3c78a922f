"""Acts on their way into the record: written down with what they tell of, and taken from here by ``gateway.scribe``.

What could come in floods is told so often an hour by each; more of it is counted, and told as one.
"""

from typing import NamedTuple

from gateway.people.file import Change, PeopleFile
from gateway.people.limits import HOUR
from gateway.people.tokens import new_id
from rules.acts import Access, Act, Acted
from rules.readings import Micros

MOST_AN_HOUR = {Act.LOCKED_OUT: 20}
MOST_AN_HOUR_ELSE = 300
MOST_WAITING = 100_000
"""Acts that the gateway has not taken yet; beyond, the oldest are lost. All three are ours."""


class WaitingAct(NamedTuple):
    """An act that the record does not know yet, as far as this file knows."""

    number: int
    act: Acted


def next_act(where: PeopleFile) -> WaitingAct | None:
    """The oldest that waits."""
    row = where.row("SELECT number, body FROM act ORDER BY number LIMIT 1")
    return None if row is None else WaitingAct(row[0], Acted.model_validate_json(row[1]))


def told(
    change: Change, now: Micros, who: str, access: Access | None, act: Act, about: str = "", times: int = 1
) -> None:
    """Write an act down, or count it where there were too many of its kind by ``who`` within the hour."""
    row = change.row("SELECT begun, listed, unlisted FROM pace WHERE act = ? AND who = ?", act, who)
    begun, listed, unlisted = row or (now, 0, 0)
    if not 0 <= now - begun < HOUR:
        _tell_rest(change, now, who, act, unlisted)
        begun, listed, unlisted = now, 0, 0
    if listed < MOST_AN_HOUR.get(act, MOST_AN_HOUR_ELSE):
        _write(change, now, who, access, act, about, times)
        listed += 1
    else:
        unlisted += times
    change.run("INSERT OR REPLACE INTO pace VALUES (?, ?, ?, ?, ?)", act, who, begun, listed, unlisted)


def tell_rests(change: Change, now: Micros) -> None:
    """Tell what was only counted, once its hour is over."""
    over = change.rows("SELECT act, who, unlisted FROM pace WHERE begun <= ? OR begun > ?", now - HOUR, now)
    for act, who, unlisted in over:
        _tell_rest(change, now, who, Act(act), unlisted)
    change.run("DELETE FROM pace WHERE begun <= ? OR begun > ?", now - HOUR, now)


def _tell_rest(change: Change, now: Micros, who: str, act: Act, unlisted: int) -> None:
    if unlisted:
        _write(change, now, who, None, act, "more than are listed one by one in an hour", unlisted)


def _write(change: Change, now: Micros, who: str, access: Access | None, act: Act, about: str, times: int) -> None:
    acted = Acted(
        arrived=now, who=who, key=new_id(), measured=now, access=access, act=act, about=about[:200], times=times
    )
    change.run("INSERT INTO act (body) VALUES (?)", acted.model_dump_json())
    change.run("DELETE FROM act WHERE number <= (SELECT max(number) FROM act) - ?", MOST_WAITING)
