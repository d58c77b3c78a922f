"""Pictures of alerts in every state, and of who was told of them."""

from dataclasses import replace

from gateway.hub import Feed
from rules.alert_words import Confirmation, PageEnd, PageWhy, Priority, State
from rules.call_picture import CallPicture, RolePicture, ToldPicture
from rules.picture import AlertPicture, OutPicture, Picture
from rules.readings import Micros
from tests.dashboard.pictures import NOON, alert, basin, later, picture

NAMES = {"basin-1": "Basin 1", "cart-3": "Cart 3", "pager-1": "Pager 1", "phone-2": "Phone 2"}

CHARGE = RolePicture("charge-nurse", "Charge nurse", ("Phone 2",), None)
TECH = RolePicture("tech", "Reprocessing tech", ("Pager 1",), None)
ENGINEER = RolePicture("engineer", "Engineer", (), None)
ROLES = (ENGINEER, CHARGE, TECH)


def standing(
    state: State = State.UNACKNOWLEDGED,
    *,
    name: str = "alert-7",
    text: str = "Basin 1: lid opened before the soak was done",
    by: str | None = None,
    at: Micros = NOON,
    priority: Priority = Priority.HIGH,
    settles: bool = False,
) -> AlertPicture:
    """An alert of Basin 1 that was raised 75 s ago."""
    raised = alert(text, priority, name=name, by=by, at=at, advice="Close the lid. The soak starts to count anew.")
    aside = {
        State.SHELVED: (later(1800, at), "Ben", "works on the equipment"),
        State.OUT_OF_SERVICE: (None, "Eva", "x"),
    }
    until, who, why = aside.get(state, (None, None, None))
    return replace(
        raised,
        subject="basin basin-1",
        state=state,
        holds=state is not State.RETURNED,
        returned=later(-10, at) if state is State.RETURNED else None,
        settles=settles or state in (State.LATCHED_UNACKNOWLEDGED, State.LATCHED_ACKNOWLEDGED),
        aside_until=until,
        aside_by=who,
        aside_why=why,
    )


def told(
    outcome: Confirmation | PageEnd | None = Confirmation.DELIVERED,
    *,
    page: str = "page-1",
    why: PageWhy = PageWhy.FIRST,
    at: Micros = NOON,
) -> ToldPicture:
    """The tech was told 70 s ago."""
    return ToldPicture(page, later(-70, at), why, "tech", "pager-1", "snpp", outcome)


def call(*pages: ToldPicture, alerts: tuple[str, ...] = ("alert-7",), at: Micros = NOON) -> CallPicture:
    """The charge nurse is told in 5 min."""
    return CallPicture(alerts, "urgent", 0, pages or (told(at=at),), later(300, at), ("charge-nurse",))


def alerted(*alerts: AlertPicture, at: Micros = NOON, calls: tuple[CallPicture, ...] | None = None) -> Feed:
    """Basin 1 with these alerts, those that are hidden among the hidden."""
    hidden = tuple(one for one in alerts if one.state in (State.SHELVED, State.SUPPRESSED, State.OUT_OF_SERVICE))
    shown = tuple(one for one in alerts if one not in hidden)
    drawn = picture(basin(at=at), alerts=shown, at=at)
    whole: Picture = replace(
        drawn,
        hidden=hidden,
        roles=ROLES,
        calls=(call(alerts=tuple(one.id for one in shown), at=at),) if calls is None and shown else calls or (),
        out=(OutPicture("cart-3", None, later(-900, at), "Eva", "wheels are changed"),) if hidden else (),
    )
    return Feed(whole)
