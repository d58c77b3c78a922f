"""People of a department for the tests, and browsers in which one of them has signed in the real way."""

import atexit
import tempfile
from functools import cache
from itertools import count
from pathlib import Path
from ssl import SSLContext

import httpx

from dashboard.cookies import Cookie
from dashboard.own_forms import SCRIPT_HEADER
from gateway.clock import Clock
from gateway.people import MACHINE, Access, Draft, People
from tests.gateway.people.staff import CHEAP, HERE, PASSWORD

ROLES = ("technician", "charge nurse", "engineer", "operator")


@cache
def people() -> People:
    """Those of all tests: nobody before somebody is asked for."""
    folder = tempfile.TemporaryDirectory(prefix="sinkside-people-")
    known = People(Path(folder.name), Clock().now, passwords=CHEAP)
    atexit.register(folder.cleanup)
    atexit.register(known.close)
    return known


def secret_of(
    called: str = "Ana",
    access: Access = Access.ADMINISTRATOR,
    roles: tuple[str, ...] = ROLES,
    contact: str | None = None,
) -> str:
    """Of a session of somebody who was invited, chose a password and so signed in; of a display its key."""
    return _secret_of(called, access, roles, contact)


@cache
def _secret_of(called: str, access: Access, roles: tuple[str, ...], contact: str | None) -> str:
    office = people().administer(MACHINE)
    if access is Access.DISPLAY:
        return office.add_display(called).secret
    name = called.lower().replace(" ", "-")
    return people().redeem(office.add(Draft(name, called, access, roles, contact)).secret, PASSWORD, HERE)


_NUMBERS = count(1)


def fresh(called: str, access: Access = Access.RESPONDER) -> tuple[str, str]:
    """Somebody new, whom no other test knows: sign-in name, and the secret of a session."""
    number = next(_NUMBERS)
    secret = secret_of(f"{called} {number}", access)
    return f"{called} {number}".lower().replace(" ", "-"), secret


def cookie_of(
    called: str = "Ana",
    access: Access = Access.ADMINISTRATOR,
    roles: tuple[str, ...] = ROLES,
    contact: str | None = None,
) -> tuple[str, str]:
    """Name and value of what a browser keeps of somebody who signed in, or of a display that was let in."""
    secret = secret_of(called, access, roles, contact)
    return (Cookie.DISPLAY if access is Access.DISPLAY else Cookie.SESSION), secret


def signed_in(
    address: str,
    called: str = "Ana",
    access: Access = Access.ADMINISTRATOR,
    roles: tuple[str, ...] = ROLES,
    *,
    contact: str | None = None,
    timeout: float = 5,
) -> httpx.Client:
    """A browser in which somebody has signed in."""
    cookies = [cookie_of(called, access, roles, contact)]
    return httpx.Client(base_url=address, cookies=cookies, timeout=timeout, verify=_authorities())


def stranger(address: str) -> httpx.Client:
    """A browser in which nobody has signed in."""
    return httpx.Client(base_url=address, verify=_authorities())


@cache
def _authorities() -> SSLContext:
    """Read once: httpx reads those that it knows for each client anew, which takes longer than most of our pages."""
    return httpx.create_ssl_context()


def script(client: httpx.Client) -> dict[str, str]:
    """The header with which a script of ours sends a form, in the name of whoever has signed in."""
    visitor = people().visitor(client.cookies[Cookie.SESSION])
    assert visitor is not None
    return {SCRIPT_HEADER: visitor.csrf}
