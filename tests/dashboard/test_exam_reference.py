"""Which references of exams are written down. The references and people here are invented."""

import pytest

from dashboard.exam_reference import exam_fault


@pytest.mark.parametrize(
    "reference",
    [
        "U-17",
        "EX-2291",
        "EX 2291",
        "A17",
        "US EXAM-0045",
        "2026-11-0045",
        "20261125-0045",
        "26/004512",
        "4512",
        "OB US-2291",
        "ED/2291/b",
        "12-11-045",
    ],
)
def test_a_departments_own_number_is_taken(reference: str) -> None:
    assert exam_fault(reference, None) == ""


@pytest.mark.parametrize(
    "reference",
    [
        "Jane Doe 01.02.1960",
        "Jane Doe",
        "DOE, JANE 17",
        "Doe,Jane",
        "Li Wang 17",
        "Jos\u00e9 \u00c1lvarez 4",
        "\u0418\u0432\u0430\u043d \u041f\u0435\u0442\u0440\u043e\u0432 4",
        "Jane",
        "Doe-Roe",
        "01.02.1960",
        "1/2/60",
        "1960-02-01",
        "D 1960/2/1",
        "01 02 1960",
        "12 Mar 1960",
        "12MAR60",
        "Feb 1, 1960",
        "1960-Feb-01",
        "March 12 1960",
        "Jose\u0301 A\u0301lvarez 4",
    ],
)
def test_what_looks_like_a_person_is_refused(reference: str) -> None:
    assert exam_fault(reference, None).startswith("Exam: this looks like a person's name or a date of birth")


@pytest.mark.parametrize(("reference", "taken"), [("EX-2291", True), ("EX-2291 Jane", False), ("U-17", False)])
def test_a_site_says_how_its_references_look(reference: str, taken: bool) -> None:  # noqa: FBT001 - a row of the table
    fault = exam_fault(reference, "EX-[0-9]+")
    assert (fault == "", "EX-[0-9]+" in fault) == (taken, not taken)


def test_a_site_whose_references_look_like_dates_can_say_so() -> None:
    assert exam_fault("1960-02-01", r"\d{4}-\d\d-\d\d") == ""


def test_no_reference_keeps_a_pattern_busy() -> None:
    # Tried way by way, 78 digits can be parted in 2**77 ways: longer than the world is old.
    assert exam_fault("1" * 78 + "x", "([0-9]+-?)+")
