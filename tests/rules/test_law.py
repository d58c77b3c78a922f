"""The fingerprint of what judges: another one wherever another judgement is possible."""

import pytest

from rules.law import fingerprint
from rules.ruleset import load_book
from tests.rules.feeder import LABELS, STANDARD, book_of, department


def of(**sections: object) -> str:
    site = department(**sections)  # type: ignore[arg-type] - sections of any kind
    return fingerprint(site, book_of(site))


def test_the_same_site_and_rules_have_the_same_fingerprint() -> None:
    assert of() == of()


@pytest.mark.parametrize(
    "sections",
    [
        {"thresholds": {"reclose_seconds": 30}},
        {"rules": {"soak-cold": {"on_delay_seconds": 31}}},
        {"rules": {"soak-cold": {"enabled": False}}},
        {"label": "hydrogen-peroxide-2.0"},
        {"guard": 0.5},
        {"cart": []},
    ],
    ids=str,
)
def test_anything_that_judges_otherwise_changes_the_fingerprint(sections: dict[str, object]) -> None:
    assert of(**sections) != of()


def test_what_comes_with_the_program_is_part_of_it() -> None:
    site = department()
    worded = load_book(site, STANDARD.replace("no signal from {sensor_name}", "{sensor_name} is dead"), LABELS)
    longer = load_book(site, STANDARD, LABELS.replace("0.55 %,manual,12,", "0.55 %,manual,13,"))
    sooner = load_book(site, STANDARD.replace("value = 21600", "value = 21000"), LABELS)
    assert len({of(), *(fingerprint(site, book) for book in (worded, longer, sooner))}) == 4
