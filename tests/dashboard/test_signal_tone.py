"""How alerts sound, measured on the waveform: envelope and spectrum know nothing of what made it.

Figures of IEC 60601-1-8:2006 with both amendments, Tables 3 and 4 (secondary sources), those so marked from memory.
"""

import wave
from dataclasses import dataclass
from functools import cache
from io import BytesIO
from itertools import pairwise

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import hilbert

from dashboard.signal_tone import wav
from rules.alert_words import Priority


@dataclass(frozen=True)
class Pulse:
    """Seconds: begin and end at nine tenths of its height; rise and fall between a tenth and nine tenths."""

    begin: float
    end: float
    rise: float
    fall: float

    @property
    def duration(self) -> float:
        return self.end - self.begin


@cache
def heard(priority: Priority) -> tuple[int, NDArray[np.float64]]:
    """Samples a second, and the samples."""
    with wave.open(BytesIO(wav(priority))) as file:
        assert (file.getnchannels(), file.getsampwidth()) == (1, 2)
        samples = np.frombuffer(file.readframes(file.getnframes()), dtype="<i2").astype(np.float64)
        return file.getframerate(), samples


@cache
def envelope(priority: Priority) -> NDArray[np.float64]:
    """Height of the sound, between 0 and about 1: the greatest magnitude within a period of the fundamental."""
    rate, samples = heard(priority)
    magnitude = np.abs(hilbert(samples))
    period = round(rate / fundamental(priority))
    windows = np.lib.stride_tricks.sliding_window_view(
        np.pad(magnitude, (period // 2, period - period // 2 - 1)), period
    )
    height: NDArray[np.float64] = windows.max(axis=1)
    return height / np.median(height[height > 0.5 * height.max()])


def pulses(priority: Priority) -> list[Pulse]:
    rate, _ = heard(priority)
    height = envelope(priority)
    loud = np.flatnonzero(height > 0.5)
    blocks = np.split(loud, np.flatnonzero(np.diff(loud) > 1) + 1)
    return [_pulse(height, int(block[0]), int(block[-1]), rate) for block in blocks]


def _pulse(height: NDArray[np.float64], first: int, last: int, rate: int) -> Pulse:
    def left(start: int, above: float, step: int) -> int:
        while 0 <= start < len(height) and height[start] > above:
            start += step
        return start

    inside = (first + last) // 2
    full, tenth = (left(inside, level, -1) for level in (0.9, 0.1))
    full_end, tenth_end = (left(inside, level, 1) for level in (0.9, 0.1))
    return Pulse(full / rate, full_end / rate, (full - tenth) / rate, (tenth_end - full_end) / rate)


@cache
def spectrum(priority: Priority) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Hertz, and magnitude, of the whole burst."""
    rate, samples = heard(priority)
    return np.fft.rfftfreq(len(samples), 1 / rate), np.abs(np.fft.rfft(samples))


@cache
def fundamental(priority: Priority) -> float:
    """Hertz of the lowest strong line."""
    hertz, magnitude = spectrum(priority)
    peaks = np.flatnonzero((magnitude > 0.3 * magnitude.max()) & (hertz > 100))
    lowest = hertz[peaks[0]]
    near = (hertz > lowest - 60) & (hertz < lowest + 60)
    return float(hertz[near][magnitude[near].argmax()])


def gaps(priority: Priority) -> list[float]:
    return [after.begin - before.end for before, after in pairwise(pulses(priority))]


@pytest.mark.parametrize(("priority", "counts"), [("high", {10}), ("medium", {3}), ("low", {1, 2})])
def test_a_burst_has_as_many_pulses_as_its_priority(priority: str, counts: set[int]) -> None:
    # Table 3: high 10, medium 3, low 1 or 2.
    assert len(pulses(Priority(priority))) in counts


@pytest.mark.parametrize(
    ("priority", "least", "most"), [("high", 0.075, 0.2), ("medium", 0.125, 0.25), ("low", 0.125, 0.25)]
)
def test_pulses_last_as_long_as_those_of_their_priority(priority: str, least: float, most: float) -> None:
    # Table 4: high 75-200 ms, medium and low 125-250 ms.
    assert all(least <= pulse.duration <= most for pulse in pulses(Priority(priority)))


@pytest.mark.parametrize("priority", Priority)
def test_a_pulse_rises_in_a_tenth_to_a_fifth_of_its_duration_and_falls_before_the_next_rises(
    priority: Priority,
) -> None:
    # Table 4: rise time 10-20 % of the duration, rise and fall together at most the spacing.
    for pulse, gap in zip(pulses(priority), [*gaps(priority), 1.0], strict=True):
        assert 0.1 <= pulse.rise / pulse.duration <= 0.2
        assert pulse.rise + pulse.fall <= gap


def test_pulses_of_high_priority_come_in_two_halves_of_three_and_two() -> None:
    # Table 3: spacing 50-125 ms; 5th to 6th 0.35-1.30 s; 3rd to 4th and 8th to 9th two spacings and a pulse (memory).
    found = gaps(Priority.HIGH)
    close = [found[n] for n in (0, 1, 3, 5, 6, 8)]
    assert all(0.05 <= gap <= 0.125 for gap in close)
    assert 0.35 <= found[4] <= 1.3
    groups = 2 * close[0] + pulses(Priority.HIGH)[0].duration
    assert [found[2], found[7]] == pytest.approx([groups] * 2, abs=0.005)


@pytest.mark.parametrize("priority", [Priority.MEDIUM, Priority.LOW])
def test_pulses_of_lesser_priority_are_evenly_spaced(priority: Priority) -> None:
    # Table 3: 125-250 ms.
    found = gaps(priority)
    assert all(0.125 <= gap <= 0.25 for gap in found)
    assert max(found) - min(found) < 0.005


@pytest.mark.parametrize(("priority", "least", "most"), [("high", 2.5, 15), ("medium", 2.5, 30), ("low", 15, 60)])
def test_a_loop_over_the_file_repeats_the_burst_at_its_interval(priority: str, least: float, most: float) -> None:
    # Table 3: between bursts 2.5-15 s and 2.5-30 s (memory), low more than 15 s; the upper bound there is ours.
    rate, samples = heard(Priority(priority))
    found = pulses(Priority(priority))
    assert least < len(samples) / rate - found[-1].end + found[0].begin <= most


@pytest.mark.parametrize("priority", Priority)
def test_the_tone_has_its_fundamental_and_four_overtones_where_they_are_heard(priority: Priority) -> None:
    # Table 4: fundamental 150-1000 Hz; at least four harmonics in 300-4000 Hz, within 15 dB of the fundamental.
    base = fundamental(priority)
    assert 150 <= base <= 1000
    hertz, magnitude = spectrum(priority)

    def height(of: float) -> float:
        near = (hertz > of - base / 4) & (hertz < of + base / 4)
        return 20 * float(np.log10(np.sqrt((magnitude[near] ** 2).sum())))

    overtones = [n * base for n in range(2, 40) if 300 <= n * base <= 4000]
    within = [of for of in overtones if abs(height(of) - height(base)) <= 15]
    assert len(within) >= 4


@pytest.mark.parametrize("priority", Priority)
def test_between_bursts_there_is_silence_and_nothing_is_clipped(priority: Priority) -> None:
    rate, samples = heard(priority)
    after = round((pulses(priority)[-1].end + 0.1) * rate)
    assert not samples[after:].any()
    assert 3000 < np.abs(samples).max() < 32_767


def test_the_more_urgent_is_not_the_quieter() -> None:
    loudness = [float(np.abs(heard(priority)[1]).max()) for priority in Priority]
    assert loudness == sorted(loudness, reverse=True)


def test_the_sounds_are_made_alike_each_time() -> None:
    assert wav(Priority.HIGH) == wav.__wrapped__(Priority.HIGH)
