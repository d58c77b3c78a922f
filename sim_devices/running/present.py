"""Who speaks at a broker already: a simulated device must not speak for one that is there."""

import queue
import secrets
from collections.abc import Collection
from typing import Any

import paho.mqtt.client as mqtt
from paho.mqtt.reasoncodes import ReasonCode

from gateway.endpoint import Endpoint
from gateway.wire import topic_for
from rules.readings import SensorKind
from rules.site import Site
from sim_devices.running.hand_topics import client_at
from sim_devices.speech import Voice

LOOK_SECONDS = 5.0
"""How long is waited for the broker's word (ours)."""


def present(endpoint: Endpoint, site: Site, things: Collection[str]) -> list[str]:
    """Which of these things have left word at the broker that they are online; none where no broker answers.

    Raises:
        gateway.endpoint.EndpointError: password or authorities cannot be read.
    """
    voice = Voice(site)
    said_by = {(link := voice.link(thing, online=True)).topic: (thing, link.payload) for thing in things}
    found: set[str] = set()
    heard_all: queue.Queue[None] = queue.Queue()
    bell = f"sinkside-hand/{site.site.id}/answer/{secrets.token_hex(8)}"

    def connected(own: mqtt.Client, _data: Any, _flags: Any, reason: ReasonCode, _properties: Any) -> None:
        if reason.is_failure:
            heard_all.put(None)
        else:
            own.subscribe([(topic_for(site.site.id, "+", SensorKind.LINK), 0), (bell, 0)])

    def hear(_own: mqtt.Client, _data: Any, message: mqtt.MQTTMessage) -> None:
        if message.topic == bell:
            heard_all.put(None)
        elif (known := said_by.get(message.topic)) is not None and message.retain and message.payload == known[1]:
            found.add(known[0])

    client = client_at(endpoint)
    client.on_connect, client.on_message = connected, hear
    # What was left at the broker comes before the bell that is rung now.
    client.on_subscribe = lambda own, *_: own.publish(bell, b"")
    try:
        client.connect(endpoint.host, endpoint.port)
    except (OSError, ValueError):
        return []
    client.loop_start()
    try:
        heard_all.get(timeout=LOOK_SECONDS)
    except queue.Empty:
        pass
    finally:
        client.disconnect()
        client.loop_stop()
    return sorted(found)
