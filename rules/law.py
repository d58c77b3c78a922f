"""What judges, in one word: the same word, the same judgement."""

from hashlib import sha256
from typing import Any

from rules.reach import Channel
from rules.ruleset import RuleBook
from rules.site import Site


def fingerprint(site: Site, book: RuleBook) -> str:
    """Of all that events depend on besides the inputs: site, rules, thresholds and labels (SHA-256, in hex)."""
    rules = (compiled.rule.model_dump_json() for compiled in book.rules.values())
    labels = (label.model_dump_json() for label in book.labels.values())
    # A site file has more sections, and more keys of a channel, which judge nothing.
    parts_of_it: dict[str, Any] = dict.fromkeys(Site.model_fields, True)
    parts_of_it["channel"] = {"__all__": set(Channel.model_fields)}
    judges = site.model_dump_json(include=parts_of_it)
    parts = (judges, *rules, repr(book.thresholds), *labels)
    return sha256("\0".join(parts).encode()).hexdigest()
