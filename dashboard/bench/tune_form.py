"""The form in which a question about figures is asked, and the question that it comes to."""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import floor, isfinite, prod
from typing import Annotated

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from dashboard.bench.figures import full_name, range_words, with_unit
from dashboard.forms import Blank, DeedError, filled
from dashboard.words import counted
from gateway.tuned import MOST_SETTINGS, THIS_RECORD, Asked, Goal, Vary
from rules.figure_picture import FigurePicture

MOST_VALUES, MOST_VARIED, MOST_RULES, MOST_SITUATIONS = 1000, 8, 50, 190
"""As gateway.tuned.Asked has room for."""

ALL_SITUATIONS = "every situation"

RULES, VALUES, TRIED_ON = "rules", "values", "tried_on"
"""Parts of the form of which more than one field may be amiss; other sentences go by the names of fields."""

Number = Annotated[float, Field(allow_inf_nan=False)]
Ticked = Annotated[bool, BeforeValidator(lambda value: value == "yes")]


class _TuneForm(BaseModel):
    model_config = ConfigDict(extra="ignore")

    record: Ticked = False
    last_days: Annotated[int | None, Field(ge=1, le=3660), Blank] = None
    population: Ticked = False
    days: Annotated[int, Field(ge=1, le=366)] = 14
    carts: Annotated[int, Field(ge=1, le=500)] = 30
    seed: Annotated[int, Field(ge=0, lt=1 << 31)] = 7
    most_false: Annotated[Number, Field(ge=0, le=10_000)] = 1
    least_percent: Annotated[Number, Field(ge=0, le=100)] = 0
    each_rule: Ticked = False
    held_out_percent: Annotated[Number, Field(ge=0, le=90)] = 50


_EXPECTED = {
    "last_days": "The last days of this record: a whole number from 1 to 3660, or nothing for all of it.",
    "days": "Days of a generated population: a whole number from 1 to 366.",
    "carts": "Carts of a generated population: a whole number from 1 to 500.",
    "seed": "Seed: a whole number from 0.",
    "most_false": "False alerts of a cart in a week: a number from 0 to 10000.",
    "least_percent": "Least share detected: from 0 to 100 %.",
    "held_out_percent": "Share held out: from 0 to 90 %.",
}


@dataclass(frozen=True, slots=True)
class Sent:
    """What a form sent: one text for each name, and of boxes to tick all that were ticked.

    texts: by name. rules, situations: as ticked.
    """

    texts: Mapping[str, str]
    rules: tuple[str, ...]
    situations: tuple[str, ...]

    @classmethod
    def of(cls, pairs: Iterable[tuple[str, str]]) -> "Sent":
        """From names and values as they came."""
        sent = list(pairs)
        rules, situations = (tuple(dict.fromkeys(v for n, v in sent if n == name)) for name in ("rule", "situation"))
        return cls(dict(sent), rules, situations)


@dataclass(frozen=True, slots=True)
class Question:
    """A question and a line that says what it is about."""

    asked: Asked
    title: str


def question(sent: Sent, figures: Sequence[FigurePicture], rules: Sequence[str], situations: Sequence[str]) -> Question:
    """What a form asks.

    figures, rules, situations: those that there are.

    Raises:
        DeedError: something is missing or wrong; a sentence for each.
    """
    wrong: dict[str, str] = {}
    chosen = [rule for rule in sent.rules if rule in rules][:MOST_RULES]
    if not chosen:
        wrong[RULES] = "Choose at least one rule."
    varied = list(_varied(sent.texts, figures, wrong))
    settings = prod(len(vary.values) for vary in varied)
    if not varied and not wrong:
        wrong[VALUES] = "Give at least one figure values to be tried: from, to, and in which steps."
    elif len(varied) > MOST_VARIED:
        wrong[VALUES] = f"{len(varied)} figures vary; at most {MOST_VARIED} can at once."
    elif settings > MOST_SETTINGS:
        wrong[VALUES] = f"That makes {settings} settings; at most {MOST_SETTINGS} are tried. Take larger steps."
    form = None
    try:
        form = filled(_TuneForm, sent.texts, _EXPECTED)
    except DeedError as error:
        wrong.update(error.fields)
    on = list(_on(form, sent, situations)) if form else []
    if form and not on:
        wrong[TRIED_ON] = "Choose on what it is tried: this record, situations, or a generated population."
    if form is None or wrong:
        raise DeedError(" ".join(wrong.values()), wrong)
    asked = Asked(
        rules=tuple(chosen),
        vary=tuple(varied),
        on=tuple(on),
        goal=Goal(
            most_false_per_cart_week=form.most_false,
            least_detected=form.least_percent / 100,
            each_rule=form.each_rule,
        ),
        held_out=form.held_out_percent / 100,
        seed=form.seed,
        last_days=form.last_days if form.record else None,
    )
    return Question(asked, _title(asked, figures))


def _varied(texts: Mapping[str, str], figures: Sequence[FigurePicture], wrong: dict[str, str]) -> Iterator[Vary]:
    for figure in figures:
        ends = [texts.get(f"{end}:{figure.name}", "").strip() for end in ("from", "to", "step")]
        if not any(ends):
            continue
        try:
            yield Vary(figure=figure.name, values=tuple(_values(figure, *ends)))
        except DeedError as error:
            wrong.update(error.fields)


def _values(figure: FigurePicture, begin: str, end: str, step: str) -> list[float]:
    """Every value from ``begin`` to ``end``; where ``end`` is empty, ``begin`` alone."""
    name = full_name(figure.name)
    first = _number(begin, f"from:{figure.name}", f"{name}: from which value on?")
    last = _number(end, f"to:{figure.name}", f"{name}: up to which value?") if end else first
    if not figure.low <= first <= last <= figure.high:
        end_amiss = "from" if not figure.low <= first <= figure.high else "to"
        raise _amiss(
            f"{end_amiss}:{figure.name}",
            f"{name}: expected from and to within {range_words(figure)}, the smaller one first.",
        )
    if first == last:
        return [first]
    each = _number(step, f"step:{figure.name}", f"{name}: in which steps?")
    if each <= 0:
        raise _amiss(f"step:{figure.name}", f"{name}: expected a step of more than 0.")
    count = (last - first) / each
    if count + 1 > MOST_VALUES:
        raise _amiss(f"step:{figure.name}", f"{name}: expected at most {MOST_VALUES} values; take larger steps.")
    return [round(first + number * each, 9) for number in range(floor(count + 1e-9) + 1)]


def _amiss(field: str, said: str) -> DeedError:
    return DeedError(said, {field: said})


def _number(text: str, field: str, expected: str) -> float:
    try:
        number = float(text.replace(",", "."))
    except ValueError:
        number = float("nan")
    if not isfinite(number):
        raise _amiss(field, f"{expected} Expected a number such as 12 or 0.5.")
    return number


def _on(form: _TuneForm, sent: Sent, situations: Sequence[str]) -> Iterator[str]:
    if form.record:
        yield THIS_RECORD
    wanted = situations if ALL_SITUATIONS in sent.situations else sent.situations
    yield from [name for name in situations if name in wanted][:MOST_SITUATIONS]
    if form.population:
        yield f"{POPULATION}{form.days}x{form.carts}"


def _title(asked: Asked, figures: Sequence[FigurePicture]) -> str:
    units = {figure.name: figure.unit for figure in figures}
    varied = "; ".join(
        f"{full_name(vary.figure)} {vary.values[0]:.10g} to {with_unit(vary.values[-1], units.get(vary.figure, ''))}"
        for vary in asked.vary
    )
    return f"{', '.join(asked.rules)}: {varied}, on {on_words(asked)}"


def on_words(asked: Asked) -> str:
    """What a question is tried on, in words."""
    others = [on for on in asked.on if on != THIS_RECORD and not on.startswith(POPULATION)]
    said = []
    if THIS_RECORD in asked.on:
        said.append(THIS_RECORD if asked.last_days is None else f"its last {counted(asked.last_days, 'day')}")
    if others:
        said.append(counted(len(others), "situation"))
    return ", ".join([*said, *(on_name(on) for on in asked.on if on.startswith(POPULATION))])


def in_words(said: str) -> str:
    """What a run said of itself, with the things that it is tried on in words."""
    return _NAMED_POPULATION.sub(lambda found: on_name(found[0]), said)


def on_name(on: str) -> str:
    """One of the things that a question is tried on, in words."""
    if on.startswith(POPULATION):
        days, _, carts = on.removeprefix(POPULATION).partition("x")
        return f"{days} days of {carts} generated carts"
    return on


POPULATION = "population:"
_NAMED_POPULATION = re.compile(f"{POPULATION}[0-9]+x[0-9]+")
