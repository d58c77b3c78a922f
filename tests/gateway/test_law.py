"""gateway/law.py: what judged can be read again from the record, and is the same law."""

from gateway.law import Law
from rules.law import fingerprint
from rules.readings import Micros
from tests.gateway.pages import CONTACTS
from tests.gateway.sites import law, site_text


def test_a_recorded_law_judges_as_the_one_that_was_in_force_though_it_cannot_speak_to_channels() -> None:
    present = law(site_text(more=CONTACTS))
    recorded = Law.recorded(present.epoch(1, Micros(0)))
    assert present.site.channel[0].model_dump()["kind"] == "smtp"
    assert [channel.id for channel in recorded.site.channel] == [channel.id for channel in present.site.channel]
    assert fingerprint(recorded.site, recorded.book) == fingerprint(present.site, present.book)


def test_another_deadline_of_a_channel_is_another_law_and_another_host_is_not() -> None:
    text = site_text(more=CONTACTS)
    sooner, elsewhere = text.replace("deadline_seconds = 60", "deadline_seconds = 50"), text.replace("127.0.0.1", "::1")
    prints = [fingerprint(one.site, one.book) for one in map(law, (text, sooner, elsewhere))]
    assert prints[0] != prints[1]
    assert prints[0] == prints[2]
