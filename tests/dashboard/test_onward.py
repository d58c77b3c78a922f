"""Where pages lead: nobody is offered a page that they may not open.

Guides are left out: they tell of pages of others, too.
"""

from html.parser import HTMLParser
from urllib.parse import urldefrag, urljoin

import pytest
from httpx import Client

from gateway.people import Access
from tests.dashboard.benches import bench_site
from tests.dashboard.visitors import signed_in

MOST_PAGES = 150
OF_OTHERS = {("/set-up", "/people")}
"""Links that say themselves whom they serve, here administrators."""


class Leads(HTMLParser):
    """The addresses to which a page's links lead."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.page = page
        self.found: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        href = dict(attrs).get("href")
        if tag == "a" and href:
            self.found.append(urldefrag(urljoin(self.page, href)).url)


def refused_on_the_way(client: Client, start: str) -> tuple[list[str], int]:
    """What was refused of all that links lead to from a page on, each path once; how many pages were opened."""
    leads_from, to_open, refused, opened = {start: ""}, [start], [], 0
    while to_open and opened < MOST_PAGES:
        path = to_open.pop(0)
        answer = client.get(path, follow_redirects=True)
        opened += 1
        if answer.status_code in (401, 403) or answer.is_server_error:
            refused.append(f"{path}, to which {leads_from[path.partition('?')[0]]} leads: {answer.status_code}")
        if answer.headers["content-type"].startswith("text/html"):
            leads = Leads(path)
            leads.feed(answer.text)
            for lead in leads.found:
                is_own = lead.startswith("/") and not lead.startswith("/guide") and (path, lead) not in OF_OTHERS
                if is_own and lead.partition("?")[0] not in leads_from:
                    leads_from[lead.partition("?")[0]] = path
                    to_open.append(lead)
    return refused, opened


@pytest.mark.parametrize(
    ("access", "fewest"), [(Access.RESPONDER, 20), (Access.ENGINEER, 30), (Access.ADMINISTRATOR, 30)]
)
def test_every_link_leads_to_a_page_that_whoever_sees_it_may_open(
    access: Access, fewest: int, tmp_path_factory: pytest.TempPathFactory
) -> None:
    with (
        bench_site(tmp_path_factory.mktemp("onward")) as site,
        signed_in(site.served.url, f"Walker {access.value}", access, timeout=30) as client,
    ):
        refused, opened = refused_on_the_way(client, "/alerts")
    assert not refused, "; ".join(refused)
    assert opened >= fewest
