"""Asking the bench by its form, and what its pages say."""

import re
from html import unescape

from httpx import Client, Response

from tests.dashboard.benches import BenchSite
from tests.gateway.answers import FIGURE, RULE

LONG = 30.0
OFF_DELAY = "rule.cord-down-rolling.off_delay_seconds"
ASKED = {f"from:{FIGURE}": "0", f"to:{FIGURE}": "29", f"step:{FIGURE}": "1", "record": "yes", "last_days": "30"}


def token(client: Client, path: str) -> str:
    found = re.search(r'name="token" value="([^"]+)"', client.get(path).text)
    assert found
    return found[1]


def words(answer: Response) -> str:
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", answer.text)).split())


def asked(client: Client, **fields: str) -> Response:
    """Ask for a run by the form; ``rule`` is chosen unless said otherwise."""
    path = "/bench/tune"
    sent = {"rule": RULE, **ASKED, **fields, "token": token(client, f"{path}?rule={RULE}")}
    return client.post(path, data=sent)


def ended(site: BenchSite, sent: Response) -> int:
    assert sent.status_code == 303, words(sent)
    number = int(sent.headers["location"].rpartition("/")[2])
    job = site.jobs.wait_over(number, LONG)
    assert job is not None
    assert job.state.is_over
    return number
