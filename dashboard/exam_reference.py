"""Whether an exam's reference may be written down: a patient's name or date of birth never belongs into the record."""

import re
from unicodedata import normalize

from pydantic import ValidationError

from rules.policy import whole

_NAME = re.compile(
    r"(?<!\w)(?:[^\W\d_]{2,}[\s,;]+[^\W\d_]{3,}|[^\W\d_]{3,}[\s,;]+[^\W\d_]{2,})(?!\w|-\d)|^[^\W\d_][^\d]{2,}$"
)
"""Two words of letters beside each other, or no digit at all: numbers of departments have one (common practice)."""

_MONTH = "(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*"
_BIRTH = re.compile(
    r"(?<!\d)(?:\d{1,2}([./ -])\d{1,2}\1(?:19|20)?\d\d|(?:19|20)\d\d([./ -])\d{1,2}\2\d{1,2}"
    rf"|\d{{1,2}}[. -]*{_MONTH}[. -]*(?:19|20)?\d\d|(?:19|20)\d\d[. -]*{_MONTH}[. -]*\d{{1,2}}"
    rf"|(?<![^\W\d_]){_MONTH}[. -]*\d{{1,2}},?[. -]+(?:19|20)\d\d)(?!\d)",
    re.IGNORECASE,
)
"""A day of a year, written in one of the usual ways (common practice), its month in figures or in English."""

_LOOKS_LIKE_A_PERSON = (
    "Exam: this looks like a person's name or a date of birth, which must not be written down. Write the department's"
    " own number of the exam, or leave it empty."
)


def exam_fault(reference: str, pattern: str | None) -> str:
    """Why a reference is refused, in a sentence or two; '' for one that may be written down.

    pattern: how the site's references look, a regular expression for the whole of one; where the site file gives one,
        it alone decides. Without one what looks like a person is refused, which finds most names and dates, not all.
    """
    if pattern is not None:
        return "" if _looks_as(pattern, reference) else _not_as(pattern)
    written = normalize("NFC", reference)  # a letter and its accent are one, however a keyboard sends them
    return _LOOKS_LIKE_A_PERSON if _NAME.search(written) or _BIRTH.search(written) else ""


def _looks_as(pattern: str, reference: str) -> bool:
    try:
        whole(pattern).validate_python(reference)
    except ValidationError:
        return False
    return True


def _not_as(pattern: str) -> str:
    return (
        f"Exam: here a reference looks as {pattern} says (site file, [reprocessing] exam_pattern). Write one, or leave"
        " it empty; never a name or a date of birth."
    )
