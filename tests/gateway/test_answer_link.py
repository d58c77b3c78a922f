"""The links of pages: bound to their page, expiring, and not to be forged."""

import hashlib
import hmac
import logging
import stat
from base64 import urlsafe_b64decode
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gateway.answer_link import KEY_FILE, AnswerLinks, answer_key, fingerprint
from gateway.answering import Answering
from gateway.journal import Journal
from gateway.outbox import Drafting
from gateway.schema import DATABASE, JournalError
from rules.readings import Micros
from tests.gateway.pages import HOURS, asked, commit, links_of, seconds, site_with_contacts

AT = Micros(1_790_000_000_000_000)
LINKS = AnswerLinks(b"k" * 32, "https://sinkside.example.org", HOURS)


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    """A journal in which two pages were asked for, at 0 s and at 60 s."""
    opened = Journal.open(tmp_path)
    drafting = Drafting(site_with_contacts(), links_of(tmp_path))
    commit(opened, asked("page-1"), asked("page-2", at=60), drafting=drafting)
    yield opened
    opened.close()


def test_a_token_is_half_of_an_hmac_as_rfc_2104_has_it() -> None:
    mac = hmac.new(LINKS.key, b"page-1\x001790000000000000", hashlib.sha256).digest()
    token = LINKS.token("page-1", AT)
    assert (len(token), urlsafe_b64decode(token + "==")) == (22, mac[:16])


def test_the_key_is_made_once_and_only_its_owner_may_read_it(tmp_path: Path) -> None:
    key = answer_key(tmp_path)
    assert answer_key(tmp_path) == key
    assert len(key) == 32
    assert stat.S_IMODE((tmp_path / KEY_FILE).stat().st_mode) == 0o600
    assert [path.name for path in tmp_path.iterdir()] == [KEY_FILE]


def test_two_folders_have_two_keys(tmp_path: Path) -> None:
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
    assert answer_key(tmp_path / "one") != answer_key(tmp_path / "two")


def test_a_damaged_key_is_told_with_what_to_do(tmp_path: Path) -> None:
    (tmp_path / KEY_FILE).write_bytes(b"short")
    with pytest.raises(JournalError, match="has 5 octets, expected 32: it was damaged; remove it"):
        answer_key(tmp_path)


def test_a_link_leads_to_its_page_and_no_other(journal: Journal, tmp_path: Path) -> None:
    links = links_of(tmp_path)
    answering = Answering(links, tmp_path / DATABASE)
    for page, at in (("page-1", 0), ("page-2", 60)):
        token = links.link_for(page, seconds(at)).rpartition("/")[2]
        found = answering.page_of(token, seconds(100))
        assert found is not None
        assert (found.page, found.contact, found.alerts, found.expired) == (page, "Duty phone 1", ("alert-1",), False)
    assert not links.is_of(links.token("page-1", seconds(0)), "page-2", seconds(60))
    assert not links.is_of(links.token("page-1", seconds(0)), "page-1", seconds(60))
    assert journal.extent.last_event == 2


@pytest.mark.usefixtures("journal")
def test_a_link_serves_for_its_hours_and_not_a_microsecond_longer(tmp_path: Path) -> None:
    links = links_of(tmp_path)
    answering = Answering(links, tmp_path / DATABASE)
    token = links.token("page-1", seconds(0))
    for late, expired in ((-1, False), (0, True)):
        found = answering.page_of(token, Micros(seconds(12 * 3600) + late))
        assert found is not None
        assert found.expired is expired


@given(st.text(max_size=40))
def test_no_other_text_is_a_pages_token(forged: str) -> None:
    assert not LINKS.is_of(forged, "page-1", AT) or forged == LINKS.token("page-1", AT)


@pytest.mark.usefixtures("journal")
def test_a_forged_token_leads_nowhere(tmp_path: Path) -> None:
    other = AnswerLinks(b"x" * 32, "https://sinkside.example.org", HOURS)
    answering = Answering(links_of(tmp_path), tmp_path / DATABASE)
    for forged in (other.token("page-1", seconds(0)), "", "page-1", "\ud800", "x" * 100_000):
        assert answering.page_of(forged, seconds(1)) is None


def test_whoever_writes_a_fingerprint_into_the_table_has_no_link_by_that(journal: Journal, tmp_path: Path) -> None:
    journal._db.execute("UPDATE page SET token = ? WHERE page = 'page-1'", [fingerprint("mine")])
    assert Answering(links_of(tmp_path), tmp_path / DATABASE).page_of("mine", seconds(1)) is None


@pytest.mark.usefixtures("journal")
def test_nothing_on_disk_but_the_key_lets_anybody_answer(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    links = links_of(tmp_path)
    secrets = [links.token(page, seconds(at)).encode() for page, at in (("page-1", 0), ("page-2", 60))]
    secrets.append(links.key)
    caplog.set_level(logging.DEBUG)
    others = [path for path in tmp_path.iterdir() if path.is_file() and path.name != KEY_FILE]
    assert {DATABASE, f"{DATABASE}-wal"} <= {path.name for path in others}
    assert not [path for path in others for secret in secrets if secret in path.read_bytes()]
    assert links.key.hex() not in caplog.text
