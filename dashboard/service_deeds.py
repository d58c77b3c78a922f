"""How maintenance takes a thing out of service and puts it back: the form as a command, and what came of it."""

from collections.abc import Mapping, Sequence
from enum import StrEnum
from typing import Annotated

from pydantic import StringConstraints

from dashboard.forms import Blank, DeedError, NotTakenError, Signed, Told, filled
from dashboard.premises import Premises
from rules.alert_commands import PutBack, TakeOut
from rules.alert_events import ServiceChanged
from rules.events import Event
from rules.readings import Micros

ServiceCommand = TakeOut | PutBack


class Deed(StrEnum):
    """What maintenance does; the last part of the address to which it is sent."""

    TAKE_OUT = "take-out"
    PUT_BACK = "put-back"


Id = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=80)]


class _RoleForm(Signed):
    role: Id


class _OutForm(_RoleForm):
    thing: Id
    rule: Annotated[Id | None, Blank] = None
    why: Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=200)]


class _BackForm(_RoleForm):
    out: Annotated[str, StringConstraints(pattern=r"^\S{1,80}( \S{1,80})?$")]


_EXPECTED = {
    "role": "Say as what you do it: choose a role.",
    "thing": "Choose what is taken out of service.",
    "rule": "Choose a rule, or all rules.",
    "why": "Say why, in at most 200 characters: it is kept with the entry.",
    "out": "Choose what is put back.",
}
_NOT_TAKEN = (
    "Nothing changed: it was so already, or by the site file your role may not do it ([alerts] maintenance_roles)."
)


def entry_of(deed: Deed, fields: Mapping[str, str], premises: Premises, now: Micros) -> ServiceCommand:
    """The command that a form asks for.

    Raises:
        DeedError: a field is missing or wrong.
    """
    if deed is Deed.PUT_BACK:
        form = filled(_BackForm, fields, _EXPECTED)
        thing, _, rule = form.out.partition(" ")
        return PutBack(arrived=now, who=form.who, thing=thing, rule=rule or None, role=_role(form, premises))
    out = filled(_OutForm, fields, _EXPECTED)
    if out.thing not in premises.watched:
        raise _amiss("thing")
    if out.rule is not None and out.rule not in premises.rules:
        raise _amiss("rule")
    role = _role(out, premises)
    return TakeOut(arrived=now, who=out.who, thing=out.thing, rule=out.rule, role=role, why=out.why)


def _amiss(name: str) -> DeedError:
    return DeedError(_EXPECTED[name], {name: _EXPECTED[name]})


def _role(form: _RoleForm, premises: Premises) -> str:
    if form.role not in premises.maintenance_roles:
        raise _amiss("role")
    return form.role


def out_words(thing: str, rule: str | None, premises: Premises) -> str:
    """What is out of service, by its names: ``Cart 3: all rules``."""
    named = premises.watched.get(thing) or premises.names.get(thing, thing)
    return f"{named}, {'all rules' if rule is None else premises.rule_names.get(rule, rule)}"


def told(events: Sequence[Event], premises: Premises) -> Told:
    """What came of it, in a sentence.

    Raises:
        NotTakenError: nothing did.
    """
    changes = [event for event in events if isinstance(event, ServiceChanged)]
    if not changes:
        raise NotTakenError(_NOT_TAKEN)
    return Told(" ".join(_sentence(event, premises) for event in changes))


def _sentence(event: ServiceChanged, premises: Premises) -> str:
    what = out_words(event.thing, event.rule, premises)
    if event.out:
        return f"{what}: out of service. Nobody is told until it is put back."
    return f"{what}: back in service. What holds is told of now."
