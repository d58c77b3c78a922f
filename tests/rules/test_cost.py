"""What is at risk while a cart rolls with cords down."""

from rules.alert_events import AlertRaised
from rules.cost import cost_at_risk, risk_words, without_risk
from tests.rules.feeder import HOOK_A, HOOK_B, MOTION, OFF_HOOK, ROLLS, Feeder, department

PRICES = {"a": 12_000.0, "b": 4_500.5}
SPACE = "\N{NO-BREAK SPACE}"


def probe(cord: str, price: float | None, name: str = "") -> dict[str, object]:
    return {"id": name or f"probe-{cord}", "name": cord, "cart": "cart-1", "cord": cord, "price": price}


def told(*probes: dict[str, object], **further: object) -> str:
    feeder = Feeder(department(probe=list(probes), **further))  # type: ignore[arg-type] - sections of any kind
    feeder.say(HOOK_A, OFF_HOOK, 0).say(HOOK_B, OFF_HOOK, 0).say(MOTION, ROLLS, 10).until(20)
    return next(event.text for event in feeder.events if isinstance(event, AlertRaised))


def test_the_cost_is_the_sum_of_the_prices_that_are_known() -> None:
    assert cost_at_risk(PRICES, ["a", "b"]) == 16_500.5
    assert cost_at_risk(PRICES, ["b", "c"]) == 4_500.5
    assert cost_at_risk(PRICES, ["c"]) is None
    assert cost_at_risk(PRICES, []) is None


def test_it_is_said_in_the_sites_currency_in_whole_units() -> None:
    assert risk_words(PRICES, ("a",), "GBP") == f", 12{SPACE}000{SPACE}GBP at risk"
    assert risk_words(PRICES, ("a", "c"), "EUR") == f", at least 12{SPACE}000{SPACE}EUR at risk"
    assert risk_words(PRICES, ("c",), "EUR") == ""


def test_a_text_is_told_without_it_where_there_is_no_room() -> None:
    for cords in (("a",), ("a", "c")):
        assert without_risk("Cart 1, by the door" + risk_words(PRICES, cords, "EUR")) == "Cart 1, by the door"
    assert without_risk("Cart 1, at risk") == "Cart 1, at risk"


def test_the_alert_names_what_is_at_risk() -> None:
    text = told(probe("a", 12_000), probe("b", 8_000), care={"currency": "USD"})
    assert text == f"Cart 1: cart rolls, cord off hook (a, b), 20{SPACE}000{SPACE}USD at risk"


def test_where_one_of_the_prices_is_not_known_it_is_at_least_the_others() -> None:
    assert told(probe("a", 12_000), probe("b", None)).endswith(f"(a, b), at least 12{SPACE}000{SPACE}EUR at risk")


def test_of_two_probes_on_one_cord_both_prices_have_to_be_known() -> None:
    assert told(probe("a", 1_000), probe("a", None, "second"), probe("b", 500)).endswith(
        f", at least 500{SPACE}EUR at risk"
    )
    assert told(probe("a", 1_000), probe("a", 2_000, "second"), probe("b", 500)).endswith(
        f", 3{SPACE}500{SPACE}EUR at risk"
    )


def test_without_prices_nothing_is_said_of_them() -> None:
    assert told(probe("a", None)) == "Cart 1: cart rolls, cord off hook (a, b)"


def test_the_prices_of_another_cart_are_not_counted() -> None:
    carts = [{"id": f"cart-{n}", "name": f"Cart {n}", "cords": ["a", "b"]} for n in (1, 2)]
    other = {**probe("a", 9_000), "cart": "cart-2"}
    assert told(other, cart=carts) == "Cart 1: cart rolls, cord off hook (a, b)"


def test_new_prices_hold_from_the_restart_on() -> None:
    feeder = Feeder(department(probe=[probe("a", 1_000)])).say(HOOK_A, OFF_HOOK, 0)
    feeder.restart(department(probe=[probe("a", 3_000)])).say(MOTION, ROLLS, 10).until(20)
    assert feeder.engine.picture().alerts[0].text.endswith(f", 3{SPACE}000{SPACE}EUR at risk")
    assert feeder.engine.picture().carts[0].care.at_risk == 3_000
