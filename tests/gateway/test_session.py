"""gateway/session.py: the client id and the topics of a site whose file has changed."""

from gateway.journal import Epoch
from gateway.session import Session
from rules.readings import Micros
from rules.site import Site
from tests.gateway.sites import law, site_text

OTHER_MAKER = """
[[sensor]]
thing = "cart-1"
name = "mains"
kind = "mains"
topic = "house/switch"
value = "/on"
"""


def site(text: str) -> Site:
    return law(text).site


def epoch(text: str) -> Epoch:
    return law(text).epoch(1, Micros(0))


def test_a_first_run_has_nothing_behind_it() -> None:
    assert Session.of(site(site_text()), [], is_embedded=True) == Session(
        "sinkside-ward", ("sinkside/+/+/+",), (), None
    )
    assert Session.of(site(site_text()), [], is_embedded=False) == Session(
        "sinkside-ward", ("sinkside/ward/+/+",), (), None
    )


def test_what_earlier_site_files_asked_for_is_to_be_heard_no_more() -> None:
    epochs = [epoch(site_text(more=OTHER_MAKER)), epoch(site_text())]
    session = Session.of(site(site_text()), epochs, is_embedded=False)
    assert session.former == ("house/switch", "sinkside/+/+/+")
    assert Session.of(site(site_text(more=OTHER_MAKER)), epochs, is_embedded=False).former == ("sinkside/+/+/+",)


def test_with_a_broker_of_our_own_the_session_outlives_the_site_s_id() -> None:
    epochs = [epoch(site_text("ward")), epoch(site_text("yard"))]
    session = Session.of(site(site_text("attic")), epochs, is_embedded=True)
    assert (session.client_id, session.left_behind) == ("sinkside-ward", None)
    assert session.former == ("sinkside/ward/+/+", "sinkside/yard/+/+")


def test_a_session_left_behind_at_a_broker_of_others_is_named_once() -> None:
    epochs = [epoch(site_text("ward")), epoch(site_text("yard"))]
    session = Session.of(site(site_text("attic")), epochs, is_embedded=False)
    assert (session.client_id, session.left_behind) == ("sinkside-attic", "sinkside-yard")
    assert Session.of(site(site_text("yard")), epochs, is_embedded=False).left_behind is None


def test_an_epoch_that_cannot_be_read_is_passed_over() -> None:
    unreadable = Epoch(1, Micros(0), "no site file", "", "", "", "0.0.1")
    session = Session.of(site(site_text("yard")), [unreadable, epoch(site_text("ward"))], is_embedded=True)
    assert session.client_id == "sinkside-ward"
