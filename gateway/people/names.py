"""What people are called: the name with which they sign in, and the one that is shown and kept with what they enter."""

import re
import unicodedata

from gateway.people.errors import PeopleError

LONGEST_CALLED = 60
"""Letters; ours: an entry of the record has room for 80."""

MOST_TYPED = 200
"""Letters that are looked at where somebody signs in; ours."""

_NAME = re.compile(r"[a-z0-9][a-z0-9._@-]{0,59}")
_UNSEEN = re.compile(
    "[\u034f\u115f\u1160\u17b4\u17b5\u180b-\u180f\u2800\u3164\ufe00-\ufe0f\uffa0\U000e0100-\U000e01ef]"
)
"""What shows nothing: of Unicode's Default_Ignorable_Code_Point those that are of no category C, and a blank."""

_ALIKE = frozenset({"LATIN", "GREEK", "CYRILLIC", "ARMENIAN", "CHEROKEE", "COPTIC"})
"""Alphabets that share shapes of letters, as Unicode calls them; no word of a name mixes them (UTS 39, 5.2)."""

_OWN = frozenset({"gateway", "sinkside", "machine", "nobody"})
"""By which the program itself is called in the record."""


def sign_in_name(typed: str) -> str:
    """As it is kept; small and large letters are the same.

    Raises:
        PeopleError: it cannot be one.
    """
    name = as_typed(typed)
    if not _NAME.fullmatch(name):
        raise PeopleError(
            f"'{typed[:60]}' cannot be a sign-in name; use up to 60 letters a-z, digits and . _ - @, a letter or digit"
            " first."
        )
    return name


def as_typed(typed: str) -> str:
    """What is looked for when somebody signs in by that name."""
    return unicodedata.normalize("NFKC", typed[:MOST_TYPED]).strip().casefold()


def called(typed: str) -> str:
    """A shown name as it is kept.

    Raises:
        PeopleError: it cannot be one.
    """
    name = " ".join(unicodedata.normalize("NFC", typed).split())
    if not 1 <= len(name) <= LONGEST_CALLED or any(unicodedata.category(letter)[0] == "C" for letter in name):
        raise PeopleError(f"A name that is shown has 1 to {LONGEST_CALLED} letters that can be printed; shorten it.")
    if _UNSEEN.search(name) or any(len(_alphabets(word)) > 1 for word in name.split()):
        raise PeopleError(
            f"'{name}' would look like another name, for it mixes alphabets or has letters that cannot be seen; type it"
            " anew with letters of one alphabet."
        )
    if called_key(name) in _OWN:
        raise PeopleError(f"'{name}' is how the record calls the program itself; choose another name.")
    return name


def _alphabets(word: str) -> set[str]:
    """Of those whose letters look alike, which are in a word."""
    return {unicodedata.name(letter, "").partition(" ")[0] for letter in word} & _ALIKE


def called_key(name: str) -> str:
    """The same for names that read the same: '  Mara  K.' and 'MARA K.'."""
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())
