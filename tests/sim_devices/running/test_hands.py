"""Hand work: deeds in words, done in a ward of this process or, over a real broker, of another."""

from collections.abc import Iterator, Mapping

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from gateway.broker import EmbeddedBroker
from gateway.endpoint import Endpoint
from gateway.hands import HandsError, Offer
from rules.probe_words import Place, Step
from rules.readings import SECOND, Micros
from rules.site import Label, Site
from sim_devices.chance import Chance
from sim_devices.running.hand_topics import MOST_OCTETS, DistantHands, HandDesk
from sim_devices.running.hands import WardHands
from sim_devices.running.offers import offers_of
from sim_devices.running.spoken_deeds import KINDS, deed_of, words_of
from sim_devices.ward.deeds import Bring, Deed, Heater, Power, Treat
from sim_devices.ward.ward import Ward
from tests.gateway.conftest import PATIENCE_SECONDS, free_port


class OneWard:
    """A ward in which a second passes before each deed."""

    def __init__(self, site: Site, labels: Mapping[str, Label], epoch: Micros) -> None:
        self.ward = Ward(site, labels, epoch, Chance(1))
        self.now = epoch
        self.hands = WardHands(site, self.act)

    def act(self, deed: Deed) -> Micros:
        self.now = Micros(self.now + SECOND)
        self.ward.do(self.now, deed)
        return self.now


@pytest.fixture
def one(site: Site, labels: Mapping[str, Label], epoch: Micros) -> OneWard:
    return OneWard(site, labels, epoch)


def test_words_become_a_deed() -> None:
    spoken = ["bring", "probe=curved-1", "place=basin", "thing=basin-1", "read=no", "claimed_after_seconds=30"]
    assert deed_of(words_of(spoken)) == Bring(
        probe="curved-1", place=Place.BASIN, thing="basin-1", read=False, claimed_after_seconds=30
    )
    assert deed_of(words_of(["heater", "basin=basin-1", "works=false"])) == Heater(basin="basin-1", works=False)
    assert deed_of(words_of(["treat", "probe=p", "steps=washed, dried", "told_after_seconds=never"])) == Treat(
        probe="p", steps=(Step.WASHED, Step.DRIED), told_after_seconds=None
    )
    assert deed_of(words_of(["power", "thing=", "on=off"])) == Power(thing="", on=False)


@pytest.mark.parametrize(
    ("spoken", "told"),
    [
        ("openlid", "there is no deed 'openlid'; perhaps 'open-lid' is meant"),
        ("", "there is no deed ''; expected one of bring, "),
        ("open-lid basin", "'basin' is no key with its value"),
        ("open-lid basin=a basin=b", "key 'basin' is there twice"),
        ("open-lid", "'open-lid' needs the key 'basin'; add basin=..."),
        ("drop probe=p hight_m=1", "'drop' has no key 'hight_m'; perhaps 'height_m' is meant"),
        ("drop probe=p height_m=9", "'drop' p: key 'height_m': expected a number from more than 0 to 3; found '9'"),
        (
            "set-celsius basin=basin-2 celsius=warm",
            "'set-celsius' basin-2: key 'celsius': expected a number from -20 to 100; found 'warm'",
        ),
        (
            "read-strip basin=b told_after_seconds=soon",
            "'told_after_seconds': expected a number from 0 to 86400, or 'never'; found 'soon'",
        ),
        ("defect sensor=cart-1/motion how=stuck by=far", "key 'by': expected a number; found 'far'"),
        (
            "pour basin=b expired_days=1.5",
            "'pour' b: key 'expired_days': expected a whole number from -1000 to 1000; found '1.5'",
        ),
        ("drop probe=P!", "key 'probe': expected lower-case letters"),
        ("bring probe=p place=bassin", "perhaps 'basin' is meant"),
        ("heater basin=b works=maybe", "key 'works': expected true or false; found 'maybe'"),
        ("treat probe=p steps=wshed", "perhaps 'washed' is meant"),
        ("bring probe=p place=unknown", "hook"),
        ("pour basin=b lot=" + "x" * 300, "key 'lot' is too long"),
    ],
)
def test_words_that_are_no_deed_are_refused_in_a_sentence(spoken: str, told: str) -> None:
    with pytest.raises(HandsError) as refused:
        deed_of(words_of(spoken.split()))
    assert told in str(refused.value)


def _filled(offer: Offer) -> dict[str, str]:
    """As a page sends it where nobody changes anything but what must be chosen."""
    written = {"celsius": "20", "steps": "washed", "ahead_seconds": "60", "percent": "5"}
    return {"do": offer.do} | {
        key.name: key.value
        or (key.choices[0].value if key.choices else written.get(key.name, "") if key.needed else "")
        for key in offer.keys
    }


def test_every_deed_is_offered_and_what_a_page_sends_of_it_is_read(site: Site) -> None:
    offers = offers_of(site)
    assert [offer.do for offer in offers] == list(KINDS)
    assert [deed_of(_filled(offer)).do for offer in offers] == list(KINDS)


def test_what_a_site_has_no_things_for_is_not_offered() -> None:
    site = Site.model_validate({"site": {"id": "s", "name": "S"}, "cart": [{"id": "cart-1", "name": "One"}]})
    offered = {offer.do for offer in offers_of(site)}
    assert {"roll", "power", "defect"} <= offered
    assert not {"open-lid", "drop", "spill", "take-down"} & offered


def test_choices_are_the_things_of_the_site_by_their_names(site: Site) -> None:
    (lift,) = (offer for offer in offers_of(site) if offer.do == "open-lid")
    assert [(choice.value, choice.words) for choice in lift.keys[0].choices] == [(b.id, b.name) for b in site.basin]


def test_a_place_is_offered_only_where_a_probe_can_be_brought(site: Site) -> None:
    (bring,) = (offer for offer in offers_of(site) if offer.do == "bring")
    (place,) = (key for key in bring.keys if key.name == "place")
    assert [choice.value for choice in place.choices] == ["hook", "in hands", "sink", "basin", "cabinet"]


def test_a_deed_by_hand_is_done_in_the_ward(one: OneWard, site: Site) -> None:
    lid = one.ward.basins["basin-1"].lid_closed
    before = lid.newest
    said = one.hands.do({"do": "open-lid" if before else "close-lid", "basin": "basin-1"})
    assert lid.newest is not before
    assert said.endswith(f": {'Lift' if before else 'Close'} a lid - {site.basin[0].name}.")


def test_what_was_done_is_told_with_what_was_filled_in(one: OneWard, site: Site) -> None:
    said = one.hands.do({"do": "drop", "probe": site.probe[0].id, "height_m": "1.2"})
    assert said.endswith(f": Drop a probe - {site.probe[0].name}, height (m): 1.2.")


def test_what_a_deed_does_is_said_whole(site: Site) -> None:
    (about,) = (offer.about for offer in offers_of(site) if offer.do == "set-celsius")
    assert about == "Ice or warm water: the solution takes a temperature at once, and goes on from there."
    assert not any(" how: " in offer.about or "about: " in offer.about for offer in offers_of(site))


def test_a_deed_that_cannot_be_is_refused_in_the_wards_words(one: OneWard) -> None:
    with pytest.raises(HandsError, match="basin-9"):
        one.hands.do({"do": "open-lid", "basin": "basin-9"})
    assert one.ward.log == []


# ---- over a broker --------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def broker(tmp_path_factory: pytest.TempPathFactory) -> Iterator[EmbeddedBroker]:
    with EmbeddedBroker(tmp_path_factory.mktemp("hands") / "broker") as running:
        yield running


@pytest.fixture
def distant(one: OneWard, broker: EmbeddedBroker, site: Site) -> Iterator[DistantHands]:
    """Hands that reach the ward by way of the broker."""
    endpoint = Endpoint.of(broker.url)
    with HandDesk(endpoint, site, one.hands) as desk:
        assert desk.listens.wait(PATIENCE_SECONDS)
        yield DistantHands(endpoint, site)


def test_a_deed_asked_for_over_mqtt_is_done_and_answered(one: OneWard, distant: DistantHands, site: Site) -> None:
    assert distant.do({"do": "roll", "cart": "cart-2"}).endswith(f": Roll a cart - {site.cart[1].name}.")
    assert one.ward.carts["cart-2"].rolling.newest
    with pytest.raises(HandsError, match="cart-77"):
        distant.do({"do": "roll", "cart": "cart-77"})
    with pytest.raises(HandsError, match="perhaps 'roll' is meant"):
        distant.do({"do": "rol", "cart": "cart-2"})


def test_the_same_over_mosquitto(one: OneWard, any_broker: EmbeddedBroker, site: Site) -> None:
    endpoint = Endpoint.of(any_broker.url)
    with HandDesk(endpoint, site, one.hands) as desk:
        assert desk.listens.wait(PATIENCE_SECONDS)
        assert DistantHands(endpoint, site).do({"do": "mains", "cart": "cart-1", "plugged_in": "yes"})
    assert one.ward.carts["cart-1"].plugged_in.newest


def test_rubbish_on_the_topic_harms_nobody(
    one: OneWard, distant: DistantHands, broker: EmbeddedBroker, site: Site
) -> None:
    stranger = Client(CallbackAPIVersion.VERSION2)
    stranger.connect("127.0.0.1", broker.port)
    stranger.loop_start()
    topic = f"sinkside-hand/{site.site.id}/ask"
    for payload in (b"\xff", b"{}", b'{"id": "#", "words": {}}', b"[" * MOST_OCTETS, b"x" * (MOST_OCTETS + 1)):
        stranger.publish(topic, payload, qos=1).wait_for_publish(PATIENCE_SECONDS)
    stranger.disconnect()
    stranger.loop_stop()
    assert distant.do({"do": "halt", "cart": "cart-2"})
    assert [deed.do for _, deed in one.ward.log] == ["halt"]


def test_where_no_simulator_listens_that_is_said(broker: EmbeddedBroker, site: Site) -> None:
    with pytest.raises(HandsError) as refused:
        DistantHands(Endpoint.of(broker.url), site, answer_seconds=0.3).do({"do": "roll", "cart": "cart-2"})
    assert str(refused.value) == (
        f"no simulator of the site '{site.site.id}' answers at {broker.url}; start one there with 'sinkside simulate'"
    )


def test_where_no_broker_runs_that_is_said(site: Site) -> None:
    url = f"mqtt://127.0.0.1:{free_port()}"
    with pytest.raises(HandsError, match=f"no broker answers at {url}: Connection refused; check the address"):
        DistantHands(Endpoint.of(url), site).do({"do": "roll", "cart": "cart-2"})
