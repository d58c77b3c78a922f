"""What people do about alerts: answer, settle, shelve, take out of service, pause the sound."""

from rules.agenda import Task
from rules.alert_commands import (
    Acknowledge,
    AlertDeed,
    Decline,
    HandOver,
    PauseSound,
    PutBack,
    Settle,
    Shelve,
    TakeOut,
    TakeOver,
    Unshelve,
)
from rules.alert_events import ServiceChanged, SoundPaused
from rules.alert_life import Change, acknowledge, ask_anew, serve, settle, shelve, take_over, unshelve
from rules.alert_register import MOST_REPLIES, Alert, AlertRegister, By, Out
from rules.alert_words import Cause
from rules.belonging import Belonging
from rules.board import SubjectKind
from rules.desk import Desk
from rules.readings import Micros, micros
from rules.ruleset import RuleBook
from rules.site import Site

SOUND = "sound pause"
"""Work of the agenda: the walls sound again."""

WALLS = "walls"
"""For whom that work is."""


class AlertDeeds:
    """Takes commands; what is not allowed, or of no effect, says nothing."""

    def __init__(self, site: Site, book: RuleBook, belonging: Belonging, register: AlertRegister, desk: Desk) -> None:
        self._roles = frozenset(role.id for role in site.role)
        self._maintenance_roles = frozenset(site.alerts.maintenance_roles)
        self._rules = book.rules.keys()
        self._belonging = belonging
        self._register = register
        self._state = register.state
        self._desk = desk

    def obey(self, command: AlertDeed | TakeOut | PutBack | PauseSound) -> None:
        """Do what was commanded."""
        match command:
            case TakeOut():
                self._take_out(command)
            case PutBack():
                self._put_back(command)
            case PauseSound():
                self._pause_sound(command)
            case _:
                self._do(command)

    # ---- one alert -------------------------------------------------------------------------------------------------

    def _do(self, deed: AlertDeed) -> None:
        alert = self._register.find(deed.alert)
        if alert is None or not _may_answer(alert, deed):
            return
        if isinstance(deed, Settle):
            self._settle(alert, deed)
        elif isinstance(deed, Shelve):
            self._shelve(alert, deed)
        else:
            role = deed.role if isinstance(deed, HandOver) else None
            own = deed.own_contact if isinstance(deed, Decline) else None
            change = self._answered(alert, deed)
            by = By(deed.who, page=deed.page, role=role, own_contact=own)
            self._register.live(alert, change, deed.arrived, by)
        self._register.drop_at_rest(alert)

    def _answered(self, alert: Alert, deed: Acknowledge | Decline | HandOver | TakeOver | Unshelve) -> Change:
        life = alert.life
        match deed:
            case Acknowledge():
                return acknowledge(life)
            case Unshelve():
                return unshelve(life, Cause.TAKEN_FROM_SHELF)
            case HandOver(role=role):
                return ask_anew(life, Cause.HANDED_OVER) if role in self._roles else Change(life)
            case TakeOver():
                return take_over(life) if _may_take_over(alert, deed) else Change(life)
            case Decline():
                return ask_anew(life, Cause.DECLINED) if _may_decline(alert, deed) else Change(life)

    def _settle(self, alert: Alert, deed: Settle) -> None:
        happened, holds = alert.subject.kind is SubjectKind.SOAK, alert.life.active
        change = settle(alert.life, is_past=happened)
        if change.said:
            alert.done = holds
        self._register.live(alert, change, deed.arrived, By(deed.who, deed.why, deed.page))

    def _shelve(self, alert: Alert, deed: Shelve) -> None:
        change, by = shelve(alert.life, one_shot=deed.one_shot), By(deed.who, deed.why, deed.page)
        if change.said:
            self._register.put_on_shelf(alert, deed.minutes, by, deed.arrived)
        self._register.live(alert, change, deed.arrived, by)

    # ---- maintenance -----------------------------------------------------------------------------------------------

    def _take_out(self, deed: TakeOut) -> None:
        known = self._belonging.is_known(deed.thing) and (deed.rule is None or deed.rule in self._rules)
        if deed.role not in self._maintenance_roles or not known or self._out(deed.thing, deed.rule) is not None:
            return
        self._state.out.append(Out(deed.thing, deed.rule, deed.arrived, deed.who, deed.why))
        self._change_service(deed, By(deed.who, deed.why))

    def _put_back(self, deed: PutBack) -> None:
        out = self._out(deed.thing, deed.rule)
        if deed.role in self._maintenance_roles and out is not None:
            self._state.out.remove(out)
            self._change_service(deed, By(deed.who))

    def _out(self, thing: str, rule: str | None) -> Out | None:
        return next((out for out in self._state.out if (out.thing, out.rule) == (thing, rule)), None)

    def _change_service(self, deed: TakeOut | PutBack, by: By) -> None:
        thing, rule, out = deed.thing, deed.rule, isinstance(deed, TakeOut)
        said = ServiceChanged(
            at=deed.arrived, thing=thing, rule=rule, out=out, who=deed.who, role=deed.role, why=by.why
        )
        self._desk.say(said)
        self._look_at_all(deed.arrived, by)

    def _look_at_all(self, now: Micros, by: By) -> None:
        for alert in list(self._state.alerts.values()):
            out = self._register.out_of(alert.rule, self._belonging.of(alert.subject)) is not None
            if out is not alert.life.out:
                self._register.live(alert, serve(alert.life, out=out), now, by)
                self._register.drop_at_rest(alert)

    def come_under_new_law(self, now: Micros) -> None:
        """What is not in the site file any more cannot be out of service; call it before the alerts' own."""
        for out in [out for out in self._state.out if not self._is_there(out)]:
            self._state.out.remove(out)
            why = "the site file or the rules changed"
            said = ServiceChanged(at=now, thing=out.thing, rule=out.rule, out=False, who="", role="", why=why)
            self._desk.say(said)

    def _is_there(self, out: Out) -> bool:
        return self._belonging.is_known(out.thing) and (out.rule is None or out.rule in self._rules)

    # ---- sound -----------------------------------------------------------------------------------------------------

    def _pause_sound(self, deed: PauseSound) -> None:
        now, task = deed.arrived, Task(SOUND, WALLS)
        if deed.minutes > 0:
            self._state.sound_until = Micros(now + micros(deed.minutes * 60))
            self._desk.agenda.set(task, self._state.sound_until)
        elif self._state.sound_until is not None:
            self.sound_again()
            self._desk.agenda.cancel(task)
        else:
            return
        self._desk.say(SoundPaused(at=now, until=self._state.sound_until or now, who=deed.who))

    def sound_again(self) -> None:
        """The pause is over."""
        self._state.sound_until = None


def _may_answer(alert: Alert, deed: AlertDeed) -> bool:
    """A page serves once for each kind of answer to an alert: the same reply may come again, and much later.

    Who goes can so take that back by the same page, or hand it over; and who took it over from one who had it no more
    can take it over from another one.
    """
    if deed.page is None:
        return True
    reply = f"{deed.page} {deed.kind}{f' {deed.holder}' if isinstance(deed, TakeOver) else ''}"
    if reply in alert.replies or len(alert.replies) >= MOST_REPLIES:
        return False
    alert.replies.append(reply)
    return True


def _may_take_over(alert: Alert, deed: TakeOver) -> bool:
    """Only from whom they saw that they take it: else two who take it at once would each believe that they have it."""
    return alert.acknowledged_by == deed.holder != deed.who


def _may_decline(alert: Alert, deed: Decline) -> bool:
    """Only who has answered can take that back: that another one cannot go leaves it as it is."""
    return alert.acknowledged_by in (None, deed.who)
