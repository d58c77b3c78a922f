"""What a page says, in at most 80 and 160 characters.

The priority comes first, or that it is no call to go, then what and where, then since when, then how much more there
is. Nothing that people wrote
of their own accord is in it: only rules and the names of the site file, so that no patient can be.
"""

import re
import unicodedata
from collections.abc import Mapping, Sequence
from datetime import datetime
from types import MappingProxyType
from typing import Protocol
from zoneinfo import ZoneInfo

from anyascii import anyascii

from rules.alert_events import BRIEF_LETTERS, TEXT_LETTERS
from rules.alert_words import Priority
from rules.reach import WEEK
from rules.readings import SECOND, Micros

GSM = frozenset(
    "@£$¥èéùìòÇØøÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ !\"#¤%&'()*+,-./0123456789:;<=>?¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§¿"
    "abcdefghijklmnopqrstuvwxyzäöñüà"
)
"""What takes seven bits: the basic set of 3GPP TS 23.038, without its line breaks and its escape; from memory."""

_ESCAPED: Mapping[str, str] = MappingProxyType(
    {"[": "(", "]": ")", "{": "(", "}": ")", "\\": "/", "|": "/", "~": "-", "^": "'", "`": "'"}
)
"""What ASCII has beside it takes an escape there, and counts twice, or is lacking; ours."""

_CUT = "..."
_SENTENCE_END = re.compile(r"[.!?](?= [^a-z])")

_WORTH = 16
"""Fewer letters than this are not worth to begin a sentence of advice in (ours)."""


class Told(Protocol):
    """What a page tells of an alert."""

    @property
    def subject(self) -> str: ...
    @property
    def priority(self) -> Priority: ...
    @property
    def text(self) -> str: ...
    @property
    def advice(self) -> str: ...
    @property
    def raised(self) -> Micros: ...
    @property
    def over(self) -> bool: ...
    @property
    def over_since(self) -> Micros | None: ...


def page_words(alerts: Sequence[Told], gathered: str, now: Micros, zone: ZoneInfo) -> tuple[str, str]:
    """Brief and text.

    Args:
        alerts: of one cause, the most urgent first.
        gathered: what all of them are together, as 'Station A: 40 sensors without a signal'; '' where it is to be told
            of the first of them, and how many more there are.
        now: when it is asked for.
        zone: whose clock the reader looks at.
    """
    first, more = alerts[0], "" if gathered or len(alerts) == 1 else f" +{len(alerts) - 1} more"
    since = clock(min(alert.raised for alert in alerts) if gathered else first.raised, now, zone)
    what, urgency = gathered or first.text, first.priority.upper()
    over = _over(alerts if gathered else alerts[:1], now, zone)
    return _fitted(urgency, what, f" {since}{over}{more}", "" if more or over else first.advice)


def _over(alerts: Sequence[Told], now: Micros, zone: ZoneInfo) -> str:
    """', over since 23:21' where all of them are, by the last; without a time where that of any is not known."""
    if not all(alert.over for alert in alerts):
        return ""
    ended = [alert.over_since for alert in alerts if alert.over_since is not None]
    return f", over since {clock(max(ended), now, zone)}" if len(ended) == len(alerts) else ", over"


def summary_words(alerts: Sequence[Told], now: Micros, zone: ZoneInfo) -> tuple[str, str]:
    """Brief and text of all that was held back, the most urgent first; of a single alert as if it had not been."""
    if len(alerts) == 1:
        return page_words(alerts, "", now, zone)
    urgent = sum(alert.priority is Priority.HIGH for alert in alerts)
    told = f"{len(alerts)} more alerts{f', {urgent} urgent' if urgent else ''}: look at the wall"
    return _fitted(alerts[0].priority.upper(), told, "", f"First: {alerts[0].text}")


def taken_words(alert: Told, now: Micros, zone: ZoneInfo) -> tuple[str, str]:
    """Brief and text for whoever had an alert that another one has now; who that is no device is told."""
    since = clock(alert.raised, now, zone)
    return _fitted("TAKEN OVER:", alert.text, f" {since}", "Somebody else has it now: you need not go.")


def passed_words(alert: Told, role: str, now: Micros, zone: ZoneInfo) -> tuple[str, str]:
    """Brief and text for whoever had an alert that somebody gave to another role, by its name."""
    since = clock(alert.raised, now, zone)
    return _fitted("HANDED OVER:", alert.text, f" {since}", f"You do not have it any more: {role} is asked instead.")


def aside_words(alert: Told, now: Micros, zone: ZoneInfo) -> tuple[str, str]:
    """Brief and text for whoever had an alert that somebody put aside."""
    since = clock(alert.raised, now, zone)
    return _fitted("PUT ASIDE:", alert.text, f" {since}", "You do not have it any more: it asks anew if it goes on.")


def trial_words(site: str, now: Micros, zone: ZoneInfo) -> tuple[str, str]:
    """Brief and text of a test."""
    return _fitted(
        "TEST", "nothing has happened", f" {clock(now, now, zone)}", f"Pages from {site} reach you this way."
    )


def clock(instant: Micros, now: Micros, zone: ZoneInfo) -> str:
    """'21:04', and the day of the week where it was on another day."""
    then, today = (datetime.fromtimestamp(at // SECOND, zone) for at in (instant, now))
    day = "" if then.date() == today.date() else f"{WEEK[then.weekday()].title()} "
    return f"{day}{then:%H:%M}"


def _fitted(urgency: str, what: str, rest: str, advice: str) -> tuple[str, str]:
    brief = _headline(urgency, seven_bits(what), rest, BRIEF_LETTERS)
    text, further = _headline(urgency, _plain(what), rest, TEXT_LETTERS), _plain(advice)
    room = TEXT_LETTERS - len(text) - len(". ")
    return brief, f"{text}. {whole_sentences(further, room)}" if further and room >= _WORTH else text


def _headline(urgency: str, what: str, rest: str, letters: int) -> str:
    return f"{urgency} {shortened(what, letters - len(urgency) - len(rest) - 1)}{rest}"


def whole_sentences(text: str, letters: int) -> str:
    """As many sentences of the text as fit; where not even the first does, as much of that as does."""
    ends = [found.end() for found in _SENTENCE_END.finditer(text) if found.end() <= letters]
    return text[: ends[-1]] if ends and len(text) > letters else shortened(text, letters)


def shortened(text: str, letters: int) -> str:
    """The text, cut after a word where it is longer than that, with three dots."""
    if len(text) <= letters:
        return text
    most = letters - len(_CUT)
    word = text.rfind(" ", 0, most + 1)
    return f"{text[: word if word > letters // 2 else most].rstrip(' ,;:.-')}{_CUT}"


def seven_bits(text: str) -> str:
    """The text in letters of the basic set, on one line, others spelt by their like or by their sound."""
    return " ".join("".join(map(_spelt, text)).split())


def _spelt(letter: str) -> str:
    if letter in GSM:
        return letter
    if letter.isspace() or _is_control(letter):
        return " "
    bare = _bare(letter)
    return bare if GSM.issuperset(bare) else "".join(_ESCAPED.get(each, each) for each in anyascii(letter))


def _bare(letter: str) -> str:
    """Without its accents."""
    parts = unicodedata.normalize("NFKD", letter)
    return "".join(part for part in parts if not unicodedata.combining(part))


def _is_latin(text: str) -> bool:
    """Whether whoever wrote it can read it in seven bits, which make one SMS of 160 letters and not of 70."""
    letters = (letter for letter in text if letter.isalpha() and letter not in GSM)
    return all(unicodedata.name(letter, "").startswith("LATIN") for letter in letters)


def _plain(text: str) -> str:
    if _is_latin(text):
        return seven_bits(text)
    return " ".join("".join(" " if _is_control(letter) else letter for letter in text).split())


def _is_control(letter: str) -> bool:
    return unicodedata.category(letter).startswith("C")
