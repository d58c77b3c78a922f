"""Exposure conditions by chemistry: the shipped table and the site's own label entries.

In the table ``source`` is that of the exposure. After ortho-phthalaldehyde come three separate rinses of fresh water,
at least one minute each: from memory.
"""

import csv
from collections.abc import Iterable
from io import StringIO

from rules.site import Label


def read_labels(text: str) -> dict[str, Label]:
    """Labels of a CSV table with the columns of ``rules/labels.csv``, by id.

    Raises:
        pydantic.ValidationError: a row is not a label.
    """
    columns = Label.model_fields
    rows = csv.DictReader(StringIO(text))
    return _by_id(
        Label.model_validate_strings(
            {key: value for key, value in row.items() if key in columns and value} | {"mode": row["mode"]}
        )
        for row in rows
    )


def _by_id(labels: Iterable[Label]) -> dict[str, Label]:
    return {label.id: label for label in labels}
