"""Figures of a device's radio, its memory and its clock."""

from sim_devices.parameters import Parameters, figure


class RadioFigures(Parameters):
    """How what a device measured reaches the broker, or does not."""

    least_latency_seconds: float = figure(0.02, "a message takes at least so long", unit="s", low=0, high=60)
    most_latency_seconds: float = figure(0.4, "and at most so long, as a rule", unit="s", low=0, high=60)
    lost_share: float = figure(0.001, "of messages that never arrive", unit="share", low=0, high=1)
    doubled_share: float = figure(
        0.005, "of messages that arrive twice, as at-least-once delivery allows", unit="share", low=0, high=1
    )
    most_doubled_seconds: float = figure(
        3, "the second comes so long after the first, at most", unit="s", low=0.001, high=600
    )
    late_share: float = figure(0.002, "of messages that arrive late, after newer ones", unit="share", low=0, high=1)
    least_late_seconds: float = figure(5, "those are late by at least so much", unit="s", low=0, high=3600)
    most_late_seconds: float = figure(90, "and by at most so much", unit="s", low=0, high=3600)
    spoilt_share: float = figure(
        0, "of messages that arrive as rubbish from a sensor that is sound", unit="share", low=0, high=1
    )
    keepalive_seconds: float = figure(15, "of a device's connection", unit="s", low=1, high=3600)
    keepalives_to_offline: float = figure(
        1.5,
        "keepalives without a word, and the broker says that it is offline",
        unit="",
        low=1,
        high=10,
        source="MQTT 3.1.1, section 3.1.2.10",
    )
    least_reconnect_seconds: float = figure(1, "it takes at least so long to connect again", unit="s", low=0, high=600)
    most_reconnect_seconds: float = figure(8, "and at most so long", unit="s", low=0, high=600)
    dropout_every_hours: float = figure(
        24, "once in so long a device is out of reach by bad luck; 0 = never", unit="h", low=0, high=10_000
    )
    least_dropout_seconds: float = figure(2, "that lasts at least so long", unit="s", low=0.1, high=3600)
    most_dropout_seconds: float = figure(120, "and at most so long", unit="s", low=0.1, high=3600)
    memory_seconds: float = figure(
        1800, "a basin's device, or a reader, keeps what it could not say for so long", unit="s", low=0, high=86_400
    )
    memory_samples: float = figure(600, "and at most so many samples, the newest", unit="", low=1, high=100_000)
    burst_samples: float = figure(50, "it sends what it kept in packs of so many", unit="", low=1, high=1000)
    burst_gap_seconds: float = figure(0.2, "from one such pack to the next", unit="s", low=0.001, high=60)
    clock_ppm: float = figure(
        20,
        "each clock gains or loses its own share, evenly spread up to this",
        unit="ppm",
        low=0,
        high=10_000,
        source="common quartz crystals; from memory",
    )
    sync_hours: float = figure(6, "a clock is set right once in so long", unit="h", low=0.1, high=10_000)


RADIO = RadioFigures()
