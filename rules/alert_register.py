"""Every alert that is not at rest: what is said of it as its life goes on, and its timers."""

from collections.abc import Collection
from dataclasses import dataclass, field
from enum import StrEnum

from rules.agenda import Task
from rules.alert_events import AlertAcknowledged, AlertMoved, AlertOver, AlertRaised, AlertTakenOver
from rules.alert_life import Answered, Change, Ended, Life, Moved, Raised, Said, TakenOver, remind, unshelve
from rules.alert_words import WAITING, Cause, Priority
from rules.board import Subject
from rules.desk import Desk
from rules.reach import AlertPolicy
from rules.readings import NO_TIME, Micros, micros
from rules.rule import Rule
from rules.ruleset import Compiled, RuleBook

DELAY = "alert delay"
"""Work of the agenda: a condition has held, or been clear, for its whole delay."""

SHELF = "alert shelf"
"""Work of the agenda: an alert's time on the shelf is over."""

REMIND = "alert reminder"
"""Work of the agenda: an alert was acknowledged long ago."""

FAILED_ADVICE = "Watch it yourself, and tell the engineer. The condition of the rule cannot be worked out."
PASSED_ADVICE = "Look again before you act, and say what was done. What it tells of is known otherwise by now."

MOST_REPLIES = 64
"""So many pages may answer for one alert; who comes after that has to do so on a screen. Ours."""


class Wait(StrEnum):
    """For which delay a condition waits."""

    NOTHING = "nothing"
    RISING = "rising"
    CLEARING = "clearing"


@dataclass(frozen=True, slots=True)
class By:
    """Who did it, why, by which page; None where nobody did, or nothing was said.

    role: to whom it was handed over. own_contact: of whoever declined at a screen.
    """

    who: str | None = None
    why: str | None = None
    page: str | None = None
    role: str | None = None
    own_contact: str | None = None


NOBODY = By()


@dataclass(frozen=True, slots=True)
class Shelf:
    """Why an alert lies on the shelf, from when until when."""

    since: Micros
    until: Micros
    who: str
    why: str


@dataclass(slots=True)
class Alert:
    """One rule on one subject, and the alert that it raised.

    id, raised, text, advice: of the alert that is not over; '' where people were never told of it.
    told: the texts among the facts that it tells of, by name, as they were when it was last told.
    failed: it tells only that its condition cannot be worked out.
    passed: what it tells of is known otherwise by now.
    done: the condition still holds, but a person has settled what happened.
    returned: since when the condition is over, None while it is not. reminded: how often it asked anew.
    replies: which page has answered what for it.
    waits_since: since when it waits for an answer, None while it does not. handed_to: the id of the role that it was
        given to then, None where it was given to nobody.
    """

    rule: str
    subject: Subject
    life: Life
    wait: Wait = Wait.NOTHING
    id: str = ""
    raised: Micros = NO_TIME
    text: str = ""
    advice: str = ""
    acknowledged_by: str | None = None
    acknowledged_at: Micros | None = None
    told: dict[str, str] = field(default_factory=dict)
    failed: bool = False
    passed: bool = False
    done: bool = False
    returned: Micros | None = None
    reminded: int = 0
    shelf: Shelf | None = None
    replies: list[str] = field(default_factory=list)
    waits_since: Micros | None = None
    handed_to: str | None = None

    @property
    def key(self) -> str:
        """By what timers know it."""
        return key_of(self.rule, self.subject)


@dataclass(frozen=True, slots=True)
class Out:
    """Maintenance took a thing's rule, or all its rules (None), out of service."""

    thing: str
    rule: str | None
    since: Micros
    who: str
    why: str


@dataclass(slots=True)
class AlertsState:
    """Every alert that is not at rest, by task name; ``counter`` numbers the raised ones.

    out: what maintenance took out of service, in that order. sound_until: the walls are silent until then.
    """

    counter: int = 0
    alerts: dict[str, Alert] = field(default_factory=dict)
    out: list[Out] = field(default_factory=list)
    sound_until: Micros | None = None


def key_of(rule: str, subject: Subject) -> str:
    """Of an alert, among all."""
    return f"{rule} {subject_words(subject)}"


def subject_words(subject: Subject) -> str:
    """As events and screens name it."""
    return f"{subject.kind.value} {subject.id}"


class AlertRegister:
    """Holds the alerts; whoever makes a step of a life has it entered here."""

    def __init__(self, book: RuleBook, policy: AlertPolicy, desk: Desk, state: AlertsState) -> None:
        self.state = state
        self._book = book
        self._desk = desk
        self._shelve_most = {priority: micros(policy.shelve_most(priority) * 60) for priority in Priority}
        self._remind_after = {
            Priority.HIGH: micros(policy.remind_high_minutes * 60),
            Priority.MEDIUM: micros(policy.remind_medium_minutes * 60),
            Priority.LOW: micros(policy.remind_low_minutes * 60),
        }

    def find(self, alert_id: str) -> Alert | None:
        """The alert of that name, if it is not over."""
        return next((a for a in self.state.alerts.values() if a.id == alert_id and a.life.announced), None)

    def rule_behind(self, alert: Alert) -> Rule | None:
        """The rule in force; None where it is gone, or watches another kind of thing by now."""
        compiled = self._book.rules.get(alert.rule)
        return compiled.rule if compiled is not None and compiled.rule.watches is alert.subject.kind else None

    def out_of(self, rule: str, things: Collection[str]) -> Out | None:
        """What maintenance took out of service, if the rule of one of these things is among it."""
        return next((out for out in self.state.out if out.rule in (None, rule) and out.thing in things), None)

    # ---- a step of a life ------------------------------------------------------------------------------------------

    def live(self, alert: Alert, change: Change, now: Micros, by: By = NOBODY) -> None:
        """The alert's life goes on; what is to be said is said."""
        before, alert.life = alert.life, change.life
        for said in change.said:
            self._say(alert, said, now, by)
        _note_who_is_asked(alert, before, change.said, now, by)
        self._mind(alert, before, now)

    def _say(self, alert: Alert, said: Said, now: Micros, by: By) -> None:
        match said:
            case Raised():
                self._raise(alert, now)
            case Answered():
                alert.acknowledged_by, alert.acknowledged_at = by.who, now
                self._desk.say(AlertAcknowledged(at=now, alert=alert.id, who=by.who or "", page=by.page))
            case TakenOver():
                self._take_over(alert, now, by)
            case Ended(why):
                who, remark = (by.who, by.why) if why == "settled" else (None, None)
                self._desk.say(AlertOver(at=now, alert=alert.id, why=why, who=who, remark=remark))
            case Moved():
                self._desk.say(_moved(alert, said, now, by))

    def _take_over(self, alert: Alert, now: Micros, by: By) -> None:
        """Whoever has it now is reminded as late as anybody who answers now."""
        who, holder = by.who or "", alert.acknowledged_by or ""
        alert.acknowledged_by, alert.acknowledged_at = who, now
        self._plan_reminder(alert)
        self._desk.say(AlertTakenOver(at=now, alert=alert.id, who=who, holder=holder, page=by.page))

    def _raise(self, alert: Alert, now: Micros) -> None:
        self.state.counter += 1
        alert.id, alert.raised = f"alert-{self.state.counter}", now
        self.tell(alert)
        self._desk.say(
            AlertRaised(
                at=now,
                alert=alert.id,
                rule=alert.rule,
                subject=subject_words(alert.subject),
                priority=self._book.rules[alert.rule].rule.priority,
                text=alert.text,
                advice=alert.advice,
            )
        )

    def _mind(self, alert: Alert, before: Life, now: Micros) -> None:
        """What goes with a life: since when it is as it is, and its timers."""
        life = alert.life
        if not life.answered:
            alert.acknowledged_by = alert.acknowledged_at = None
        if life.active:
            alert.returned = None
        elif before.active:
            alert.returned = now
        if not life.shelved and alert.shelf is not None:
            alert.shelf = None
            self._desk.agenda.cancel(Task(SHELF, alert.key))
        if (life.active and life.answered) is not (before.active and before.answered):
            self._plan_reminder(alert)
        if before.announced and not life.announced:
            alert.id, alert.returned, alert.reminded, alert.replies = "", None, 0, []

    def drop_at_rest(self, alert: Alert) -> None:
        """Forget what nothing has to be remembered of."""
        life = alert.life
        if not (life.announced or life.active or alert.done) and alert.wait is Wait.NOTHING:
            self.state.alerts.pop(alert.key, None)

    # ---- what it says ----------------------------------------------------------------------------------------------

    def tell(self, alert: Alert) -> None:
        """Text and advice by the facts of now; of a rule that fails they claim nothing but that."""
        compiled, facts = self._book.rules[alert.rule], self._desk.board.facts[alert.subject]
        alert.told, alert.passed = self.texts(alert, compiled), False
        if alert.failed:
            alert.text, alert.advice = f"{facts['name']}: rule '{alert.rule}' fails", FAILED_ADVICE
        else:
            alert.text, alert.advice = compiled.rule.text.format_map(facts), compiled.rule.advice.format_map(facts)

    def texts(self, alert: Alert, compiled: Compiled) -> dict[str, str]:
        """Not the numbers: a number that wanders does not make it another thing that happened."""
        facts = self._desk.board.facts[alert.subject]
        return {name: value for name in sorted(compiled.looked_at) if isinstance(value := facts[name], str)}

    # ---- timers ----------------------------------------------------------------------------------------------------

    def put_on_shelf(self, alert: Alert, minutes: float, by: By, now: Micros) -> None:
        """Until its time is over, which is never later than the site allows."""
        until = Micros(now + min(micros(minutes * 60), self._most_on_shelf(alert)))
        alert.shelf = Shelf(now, until, by.who or "", by.why or "")
        self._desk.agenda.set(Task(SHELF, alert.key), until)

    def _most_on_shelf(self, alert: Alert) -> Micros:
        rule = self.rule_behind(alert)
        return self._shelve_most[Priority.HIGH if rule is None else rule.priority]

    def shelf_over(self, key: str, due: Micros) -> None:
        """An alert's time on the shelf is over."""
        alert = self.state.alerts[key]
        self.live(alert, unshelve(alert.life, Cause.SHELF_TIME_OVER), due)
        self.drop_at_rest(alert)

    def remind(self, key: str, due: Micros) -> None:
        """An alert was acknowledged long ago; while it is hidden nobody is reminded."""
        alert = self.state.alerts[key]
        change = remind(alert.life)
        if change.said:
            alert.reminded += 1
        self.live(alert, change, due)

    def _plan_reminder(self, alert: Alert) -> None:
        task, rule = Task(REMIND, alert.key), self.rule_behind(alert)
        after = self._remind_after[rule.priority] if rule is not None else 0
        if after and alert.life.active and alert.life.answered and alert.acknowledged_at is not None:
            self._desk.agenda.set(task, Micros(alert.acknowledged_at + after))
        else:
            self._desk.agenda.cancel(task)

    def keep_time_anew(self, alert: Alert) -> None:
        """By the policy in force, which may be another than when the alert was shelved or acknowledged."""
        shelf = alert.shelf
        if shelf is not None:
            until = Micros(min(shelf.until, shelf.since + self._most_on_shelf(alert)))
            alert.shelf = Shelf(shelf.since, until, shelf.who, shelf.why)
            self._desk.agenda.set(Task(SHELF, alert.key), until)
        self._plan_reminder(alert)


def _note_who_is_asked(alert: Alert, before: Life, said: Collection[Said], now: Micros, by: By) -> None:
    """Who is given it is asked anew, though it may have waited before."""
    if alert.life.state not in WAITING:
        alert.waits_since = alert.handed_to = None
    elif before.state not in WAITING or (said and by.role is not None):
        alert.waits_since, alert.handed_to = now, by.role


def _moved(alert: Alert, said: Moved, now: Micros, by: By) -> AlertMoved:
    shelf = alert.shelf if said.cause is Cause.SHELVED else None
    return AlertMoved(
        at=now,
        alert=alert.id,
        rule=alert.rule,
        subject=subject_words(alert.subject),
        before=said.before,
        after=said.after,
        cause=said.cause,
        who=by.who,
        why=by.why,
        until=None if shelf is None else shelf.until,
        role=by.role,
        page=by.page,
        own_contact=by.own_contact,
    )
