"""Texts that people entered, on a terminal: it takes some characters for orders (CWE-150)."""


def visible(line: str) -> str:
    r"""The line with whatever is no letter, sign or plain blank written out, such as ``\x1b``."""
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in line)
