"""What an alert sounds like: pulse patterns after IEC 60601-1-8, Tables 3 and 4 (secondary), as WAV files.

A file holds one burst and the silence after it, so that a loop over the file repeats the burst at its interval. The
patterns are the standard's, the pitches and the share of the overtones are ours; nothing here claims to conform to it.
"""

import wave
from array import array
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from io import BytesIO
from math import acos, cos, pi, sin
from types import MappingProxyType

from rules.alert_words import Priority

SAMPLES_PER_SECOND = 22_050
_BYTES_PER_SAMPLE = 2
_FULL_SCALE = 32_767

OVERTONES = (1.0, 0.8, 0.65, 0.5, 0.4, 0.32)
"""Amplitudes of the fundamental and its overtones, here within 10 dB of each other.

IEC 60601-1-8, Table 4 (secondary): at least four between 300 and 4000 Hz, within 15 dB.
"""

RISE_SHARE = 0.15
"""Of a pulse's duration, from a tenth of its height to nine tenths; 10-20 % are asked for."""


@dataclass(frozen=True, slots=True)
class Pattern:
    """One burst, and when it comes again; durations in seconds, at nine tenths of a pulse's height.

    hertz: of the fundamental, 150-1000. loudness: share of full scale.
    pulse: duration of a pulse; gaps: from its end to the next one's beginning, so one fewer than there are pulses.
    rest: from the end of the last pulse to the beginning of the next burst.
    """

    hertz: float
    loudness: float
    pulse: float
    gaps: tuple[float, ...]
    rest: float


_CLOSE, _APART, _HALVES = 0.1, 0.35, 0.7
"""Of high priority: between pulses (0.05-0.125 s), after the third of a half (two of those and a pulse), and between
the halves (0.35-1.30 s)."""

_FIVE = (_CLOSE, _CLOSE, _APART, _CLOSE)

PATTERNS: Mapping[Priority, Pattern] = MappingProxyType(
    {
        # Ten pulses in two halves of three and two: 0.075-0.2 s each, again after 2.5-15 s.
        Priority.HIGH: Pattern(hertz=620, loudness=0.9, pulse=0.15, gaps=(*_FIVE, _HALVES, *_FIVE), rest=5),
        # Three pulses: 0.125-0.25 s each, 0.125-0.25 s apart, again after 2.5-30 s.
        Priority.MEDIUM: Pattern(hertz=470, loudness=0.65, pulse=0.18, gaps=(0.18, 0.18), rest=12),
        # One or two pulses, as those of medium priority; again after more than 15 s, or not at all.
        Priority.LOW: Pattern(hertz=350, loudness=0.45, pulse=0.18, gaps=(0.18,), rest=20),
    }
)


@cache
def wav(priority: Priority) -> bytes:
    """A burst and its rest: one channel, 16 bits, ``SAMPLES_PER_SECOND``."""
    file = BytesIO()
    with wave.open(file, "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(_BYTES_PER_SAMPLE)
        out.setframerate(SAMPLES_PER_SECOND)
        out.writeframes(_samples(PATTERNS[priority]))
    return file.getvalue()


def _samples(pattern: Pattern) -> "array[int]":
    """The pulse, which is the same each time, laid where the pattern has it."""
    pulse = array("h", (round(_FULL_SCALE * pattern.loudness * height) for height in _pulse(pattern)))
    begins = [0.0]
    for gap in pattern.gaps:
        begins.append(begins[-1] + pattern.pulse + gap)
    whole_seconds = begins[-1] + pattern.pulse + pattern.rest
    whole = array("h", bytes(_BYTES_PER_SAMPLE * round(whole_seconds * SAMPLES_PER_SECOND)))
    for begin in begins:
        first = round(begin * SAMPLES_PER_SECOND)
        whole[first : first + len(pulse)] = pulse
    return whole


_TENTH, _NINE_TENTHS = (acos(1 - 2 * height) / pi for height in (0.1, 0.9))
"""Where a raised cosine that rises in a time of 1 reaches these heights."""


def _pulse(pattern: Pattern) -> list[float]:
    """Heights from -1 to 1 of a pulse that rises and falls as a raised cosine."""
    edge = pattern.pulse * RISE_SHARE / (_NINE_TENTHS - _TENTH)
    length = pattern.pulse + 2 * edge * _NINE_TENTHS
    times = [sample / SAMPLES_PER_SECOND for sample in range(round(length * SAMPLES_PER_SECOND))]
    tone = [_envelope(min(time, length - time) / edge) * _tone(2 * pi * pattern.hertz * time) for time in times]
    peak = max(map(abs, tone))
    return [height / peak for height in tone]


def _envelope(risen: float) -> float:
    return (1 - cos(pi * min(1.0, risen))) / 2


def _tone(phase: float) -> float:
    return sum(share * sin(number * phase) for number, share in enumerate(OVERTONES, 1))
