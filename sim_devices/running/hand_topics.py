"""Hand work over MQTT: who asks for a deed, who does it, and what they say to each other.

A deed is asked for on ``sinkside-hand/<site>/ask`` and answered on ``sinkside-hand/<site>/answer/<id>``, at QoS 0 and
never retained: hand work is for now. The gateway hears neither.
"""

import logging
import queue
import secrets
import threading
from collections.abc import Callable, Mapping, Sequence
from typing import Annotated, Any, Self

import paho.mqtt.client as mqtt
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.reasoncodes import ReasonCode
from pydantic import Field, ValidationError

from gateway.endpoint import Endpoint
from gateway.hands import Hands, HandsError, Offer
from rules.part import Part
from rules.site import Site
from sim_devices.running.hands import HAND_SECONDS
from sim_devices.running.offers import offers_of
from sim_devices.running.spoken_deeds import MOST_CHARACTERS

log = logging.getLogger(__name__)

MOST_OCTETS = 8192
"""Of a question; longer ones are passed over (ours)."""

MOST_ASKED = 100
"""Questions that may wait; more are passed over (ours)."""

ANSWER_SECONDS = HAND_SECONDS + 5
"""How long an answer is waited for: longer than a ward that is late may take for a deed (ours)."""

_SLOWEST_RECONNECT_SECONDS = 10

_Id = Annotated[str, Field(pattern=r"^[0-9a-f]{16}$")]
_Word = Annotated[str, Field(max_length=MOST_CHARACTERS)]


class Asked(Part):
    """A deed, as text; ``id`` names the question."""

    id: _Id
    words: Annotated[dict[_Word, _Word], Field(max_length=20)]


class Answered(Part):
    """What became of it: whether it was done, and a sentence."""

    id: _Id
    done: bool
    said: Annotated[str, Field(max_length=2000)]


def _ask_topic(site: str) -> str:
    return f"sinkside-hand/{site}/ask"


def _answer_topic(site: str, question: str) -> str:
    return f"sinkside-hand/{site}/answer/{question}"


def client_at(endpoint: Endpoint) -> mqtt.Client:
    """A client that is still to be connected; raises EndpointError."""
    client = mqtt.Client(CallbackAPIVersion.VERSION2, client_id=f"sinkside-hand-{secrets.token_hex(6)}")
    if (context := endpoint.tls_context()) is not None:
        client.tls_set_context(context)
    if endpoint.username is not None:
        client.username_pw_set(endpoint.username, endpoint.password())
    client.reconnect_delay_set(max_delay=_SLOWEST_RECONNECT_SECONDS)
    return client


class HandDesk:
    """Listens for deeds at a broker and has them done: ``with HandDesk(endpoint, site, hands): ...``.

    It connects in the background, and again after the broker was away. Several deeds are done one after the other.

    Raises:
        gateway.endpoint.EndpointError: password or authorities cannot be read.
    """

    def __init__(self, endpoint: Endpoint, site: Site, hands: Hands) -> None:
        self._site, self._hands = site.site.id, hands
        self.listens = threading.Event()
        self._asked: queue.Queue[Asked | None] = queue.Queue(MOST_ASKED)
        self._client = client = client_at(endpoint)
        client.on_connect = self._subscribe
        client.on_subscribe = lambda *_: self.listens.set()
        client.on_message = self._hear
        client.connect_async(endpoint.host, endpoint.port)
        self._thread = threading.Thread(target=self._serve, name="hand-desk", daemon=True)

    def __enter__(self) -> Self:
        self._client.loop_start()
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._asked.put(None)
        self._thread.join()
        self._client.disconnect()
        self._client.loop_stop()

    def _subscribe(self, client: mqtt.Client, _data: Any, _flags: Any, reason: ReasonCode, _properties: Any) -> None:
        if not reason.is_failure:
            client.subscribe(_ask_topic(self._site))

    def _hear(self, _client: Any, _data: Any, message: mqtt.MQTTMessage) -> None:
        if len(message.payload) > MOST_OCTETS:
            return
        try:
            self._asked.put_nowait(Asked.model_validate_json(message.payload))
        except (ValidationError, queue.Full) as error:
            log.warning("a deed on '%s' is passed over: %s", message.topic, type(error).__name__)

    def _serve(self) -> None:
        while (asked := self._asked.get()) is not None:
            answer = self._answered(asked)
            self._client.publish(_answer_topic(self._site, asked.id), answer.model_dump_json())

    def _answered(self, asked: Asked) -> Answered:
        try:
            return Answered(id=asked.id, done=True, said=self._hands.do(asked.words))
        except HandsError as error:
            return Answered(id=asked.id, done=False, said=str(error))
        except Exception:
            log.exception("a deed meets a fault of the program")
            return Answered(id=asked.id, done=False, said="a fault of the program; its log tells more")


class DistantHands:
    """Hands in a ward of another process, by way of a broker; answers to ``gateway.hands.Hands``."""

    def __init__(self, endpoint: Endpoint, site: Site, answer_seconds: float = ANSWER_SECONDS) -> None:
        self._endpoint, self._site, self._answer_seconds = endpoint, site.site.id, answer_seconds
        self._offers = offers_of(site)

    def offers(self) -> Sequence[Offer]:
        """What can be done."""
        return self._offers

    def do(self, values: Mapping[str, str]) -> str:
        """Have a deed done, and tell what became of it.

        Raises:
            HandsError: it cannot be done, nobody does it, or there is no broker.
            gateway.endpoint.EndpointError: password or authorities cannot be read.
        """
        answered = _exchange(self._endpoint, self._site, dict(values), self._answer_seconds)
        if not answered.done:
            raise HandsError(answered.said)
        return answered.said


def _exchange(endpoint: Endpoint, site: str, words: dict[str, str], answer_seconds: float) -> Answered:
    """Ask for a deed at a broker and wait for the answer."""
    question = Asked(id=secrets.token_hex(8), words=words)
    answers: queue.Queue[Answered | str] = queue.Queue()
    client = client_at(endpoint)
    client.on_connect = _asking(site, question, answers)
    client.on_subscribe = lambda own, *_: own.publish(_ask_topic(site), question.model_dump_json())
    client.on_message = lambda _own, _data, message: answers.put(Answered.model_validate_json(message.payload))
    try:
        client.connect(endpoint.host, endpoint.port)
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or str(error)
        raise HandsError(f"no broker answers at {endpoint}: {why}; check the address, and whether it runs") from error
    client.loop_start()
    try:
        answer = answers.get(timeout=answer_seconds)
    except queue.Empty:
        raise HandsError(
            f"no simulator of the site '{site}' answers at {endpoint}; start one there with 'sinkside simulate'"
        ) from None
    finally:
        client.disconnect()
        client.loop_stop()
    if isinstance(answer, str):
        raise HandsError(answer)
    return answer


def _asking(site: str, question: Asked, answers: "queue.Queue[Answered | str]") -> Callable[..., None]:
    """Subscribes to the answer once connected, or tells why that is not possible."""

    def connected(client: mqtt.Client, _data: Any, _flags: Any, reason: ReasonCode, _properties: Any) -> None:
        if reason.is_failure:
            answers.put(f"the broker refuses: {str(reason).lower()}; give it a user and a password that it knows")
        else:
            client.subscribe(_answer_topic(site, question.id))

    return connected
