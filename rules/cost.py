"""What probes cost that are at risk, as far as the site file gives their prices."""

import re
from collections.abc import Iterable, Mapping


def cost_at_risk(prices: Mapping[str, float], cords: Iterable[str]) -> float | None:
    """The sum for these cords, in the site's currency; None where no price of them is known.

    A damaged probe costs about 2,000-20,000 US dollars (common practice).
    """
    known = [prices[cord] for cord in cords if cord in prices]
    return sum(known) if known else None


def risk_words(prices: Mapping[str, float], cords: tuple[str, ...], currency: str) -> str:
    """The end of a sentence, such as ', 12 000 EUR at risk'; '' where nothing is known.

    Where not every price is known the sum is the least of it.
    """
    cost = cost_at_risk(prices, cords)
    if cost is None:
        return ""
    amount = f"{cost:,.0f}".replace(",", "\N{NO-BREAK SPACE}")
    least = "" if all(cord in prices for cord in cords) else "at least "
    return f", {least}{amount}\N{NO-BREAK SPACE}{currency} at risk"


def without_risk(text: str) -> str:
    """A text without what ``risk_words`` added to its end."""
    return _RISK.sub("", text)


_RISK = re.compile(", (?:at least )?[0-9\N{NO-BREAK SPACE}]+\N{NO-BREAK SPACE}[A-Z]{3} at risk$")
