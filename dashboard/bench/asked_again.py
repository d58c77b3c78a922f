"""The form as it was filled in for an earlier question, so that it can be asked again with changes."""

from collections.abc import Iterator

from dashboard.bench.tune_form import POPULATION, Sent
from gateway.tuned import THIS_RECORD, Asked, Vary


def sent_of(asked: Asked) -> Sent:
    """What the form sent that asked this; of values that are not evenly apart their ends alone."""
    populations = [on.removeprefix(POPULATION) for on in asked.on if on.startswith(POPULATION)]
    situations = [on for on in asked.on if on != THIS_RECORD and not on.startswith(POPULATION)]
    texts = {
        "record": "yes" if THIS_RECORD in asked.on else "",
        "last_days": "" if asked.last_days is None else str(asked.last_days),
        "population": "yes" if populations else "",
        "most_false": _number(asked.goal.most_false_per_cart_week),
        "least_percent": _number(100 * asked.goal.least_detected),
        "each_rule": "yes" if asked.goal.each_rule else "",
        "held_out_percent": _number(100 * asked.held_out),
        "seed": str(asked.seed),
    }
    for population in populations:
        texts["days"], _, texts["carts"] = population.partition("x")
    for vary in asked.vary:
        texts.update(_ends(vary))
    return Sent(texts, asked.rules, tuple(situations))


def _ends(vary: Vary) -> Iterator[tuple[str, str]]:
    values = sorted(vary.values)
    yield f"from:{vary.figure}", _number(values[0])
    if len(values) > 1:
        yield f"to:{vary.figure}", _number(values[-1])
        yield f"step:{vary.figure}", _number((values[-1] - values[0]) / (len(values) - 1))


def _number(value: float) -> str:
    return f"{value:.10g}"
