"""What judges, in one word: the same word, the same judgement."""

from hashlib import sha256

from rules.ruleset import RuleBook
from rules.site import Site


def fingerprint(site: Site, book: RuleBook) -> str:
    """Of all that events depend on besides the inputs: site, rules, thresholds and labels (SHA-256, in hex)."""
    rules = (compiled.rule.model_dump_json() for compiled in book.rules.values())
    labels = (label.model_dump_json() for label in book.labels.values())
    # A site file has more sections, which judge nothing.
    judges = site.model_dump_json(include=set(Site.model_fields))
    parts = (judges, *rules, repr(book.thresholds), *labels)
    return sha256("\0".join(parts).encode()).hexdigest()
