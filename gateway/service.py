"""The gateway as a whole: which parts there are, in which order they start and stop, and what happens if one fails."""

import logging
import os
import signal
import threading
from collections.abc import Callable, Mapping
from concurrent.futures import Future
from contextlib import ExitStack
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Self

from apscheduler.schedulers.background import BackgroundScheduler

from gateway.alert_topics import AlertTopics
from gateway.answer_link import AnswerLinks, answer_key
from gateway.answering import Answering
from gateway.broker import EmbeddedBroker
from gateway.broker_options import BrokerOptions, window_for
from gateway.channel import Channel
from gateway.channel_watch import ChannelWatch
from gateway.channels import channels_of
from gateway.clock import Clock, ClockError
from gateway.delivery import GATEWAY, SendPace
from gateway.endpoint import Endpoint, EndpointError
from gateway.health import Health
from gateway.heartbeat import Heartbeat
from gateway.housekeeping import add_channel_watch, add_heartbeat, add_test_page, housekeeping
from gateway.hub import Feed, Hub
from gateway.inbox import Asked, Inbox
from gateway.journal import Journal
from gateway.law import Law
from gateway.mqtt import Subscriber
from gateway.outbox import Drafting, Trying
from gateway.pump import Pump, StoppedError
from gateway.schema import DATABASE
from gateway.secret import Secret
from gateway.sending import Office, Senders
from gateway.session import Session
from gateway.sitefile import BrokerSettings, Setup
from gateway.turn import Outlets, Pace
from gateway.wire import Wire
from rules.alert_commands import TryPages
from rules.commands import Command
from rules.events import Event
from rules.readings import SECOND, Micros, micros

log = logging.getLogger(__name__)

INBOX_ITEMS = 65_536
"""As many as a session may have unacknowledged, so that a broker never floods the inbox."""

STOP_SECONDS = 10.0

MOST_BACK_SECONDS = 60.0
"""So much further than a device's clock may be ahead may the system's be behind the journal at the start; ours."""


LEFT_BEHIND = (
    "The site had another id: at the broker the session of client '%s' still collects messages; have it removed there."
)


class BusyError(RuntimeError):
    """More waits to be done than fits; ask again in a moment."""


def end_process(error: BaseException) -> None:
    """What a gateway does when its pump has failed: it ends, so that whoever supervises it starts it anew."""
    log.critical("Sinkside stops, for its pump failed: %r", error)
    os.kill(os.getpid(), signal.SIGTERM)


class Service:
    """Broker, subscriber, pump, hub and alert topics of one site: ``with Service(setup, folder) as service: ...``.

    folder: everything that is kept; one gateway a folder.
    channels: by which pages go, by the ids of [[channel]]; by default those of the site file.
    clock: by default the system's, carried on from the journal's last entry where the system's was set back.
    on_crash: called on the pump's thread when it failed; ``failure`` says why.
    """

    def __init__(
        self,
        setup: Setup,
        folder: Path,
        *,
        channels: Mapping[str, Channel] | None = None,
        clock: Clock | None = None,
        pace: Pace | None = None,
        send_pace: SendPace | None = None,
        on_crash: Callable[[BaseException], None] = end_process,
    ) -> None:
        self._setup = setup
        self._folder = folder
        self._clock = clock
        self._pace = pace
        self._channels = channels_of(setup.file) if channels is None else channels
        self._send_pace = send_pace or SendPace()
        self._on_crash = on_crash
        self._inbox = Inbox(INBOX_ITEMS)
        self._parts = ExitStack()
        self._hub: Hub | None = None
        self._endpoint: Endpoint | None = None
        self.pump: Pump | None = None
        self.answering: Answering | None = None
        self._stopping = False
        self.failure: BaseException | None = None

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()

    @property
    def hub(self) -> Hub:
        """What screens read; there once started."""
        if self._hub is None:
            raise RuntimeError("the service is not started")
        return self._hub

    @property
    def endpoint(self) -> Endpoint:
        """Where the broker is; known once started."""
        if self._endpoint is None:
            raise RuntimeError("the service is not started")
        return self._endpoint

    @property
    def clock(self) -> Clock:
        """The gateway's clock; known once started."""
        if self._clock is None:
            raise RuntimeError("the service is not started")
        return self._clock

    @property
    def broker_port(self) -> int:
        """The port of the broker, embedded or not."""
        return self.endpoint.port

    def start(self) -> None:
        """Start everything; on return the pump runs and the broker is being connected to.

        Raises:
            JournalError, StoreError, BrokerError, EndpointError, ClockError: one sentence; nothing is left running.
        """
        try:
            self._start()
        except BaseException:
            self._parts.close()
            raise

    def stop(self) -> None:
        """Write and acknowledge what is in hand, end every stream, then the broker."""
        self._stopping = True
        self._parts.close()

    def _start(self) -> None:
        file, parts = self._setup.file, self._parts
        journal = Journal.open(self._folder)
        parts.callback(journal.close)
        if journal.sqlite_warning:
            log.warning("%s", journal.sqlite_warning)
        self._clock = clock = self._clock or clock_from(
            journal.extent.clock, micros(file.limits.max_ahead_seconds + MOST_BACK_SECONDS)
        )
        session = Session.of(file, journal.view.epochs(), is_embedded=file.broker.url is None)
        if session.left_behind:
            log.warning(LEFT_BEHIND, session.left_behind)
        wire = Wire(file)
        self._endpoint = file.broker.at(file.broker.url or self._embedded(session))
        subscriber = Subscriber(
            self._endpoint,
            session.topics,
            clock,
            self._inbox,
            client_id=session.client_id,
            site=file.site.id,
            former=session.former,
        )
        alerts = AlertTopics(subscriber, file.site.id, clock.steady)
        law, self.answering = Law.of(self._setup), self._answering()
        links = None if self.answering is None else self.answering.links
        drafting = Drafting(law.site, links)
        office = Office(self._folder / DATABASE, self._hand_in, clock.now, drafting.tries, links, self._send_pace)
        senders = Senders(self._channels, office, {channel.id: channel.at_once for channel in file.channel})
        outlets = Outlets(subscriber.acknowledge, self._publish, alerts.follow, senders.wake)
        self.pump = pump = Pump(law, journal, self._inbox, wire, outlets, clock, self._pace, drafting)
        self._hub = Hub(pump.feed(), self._ask)
        parts.callback(self._hub.close)
        parts.callback(self._inbox.close)
        parts.callback(subscriber.stop)
        self._run(pump)
        senders.start()
        parts.callback(senders.stop)
        subscriber.start()
        chores = housekeeping(self._folder, pump.shorten_log, partial(pump.warn, "the disk"))
        self._plan_pages(chores, pump, clock)
        chores.start()
        parts.callback(chores.shutdown, wait=False)

    def _plan_pages(self, chores: BackgroundScheduler, pump: Pump, clock: Clock) -> None:
        """What the channels lack; the daily test page and the sign of life, where the site file asks for them."""
        file, paging = self._setup.file, self._setup.file.paging
        add_channel_watch(chores, ChannelWatch(file.channel, pump.warn).look)
        if file.alerts.test_at is not None:
            add_test_page(chores, file.alerts.test_at, file.site.zone, partial(self._try_pages, clock.now))
        secret = Secret("heartbeat_url", paging.heartbeat_url_env)
        if paging.heartbeat_url is not None or secret.is_given:
            beat = Heartbeat(paging.heartbeat_url, secret, self._health, partial(pump.warn, "the watch")).beat
            add_heartbeat(chores, paging.heartbeat_seconds, beat)

    def _health(self) -> Health:
        return Health.of(self.hub.latest, self.clock.now(), running=not self.hub.closed)

    def _try_pages(self, now: Callable[[], Micros]) -> None:
        self._ask(TryPages(arrived=now(), who=GATEWAY)).result(STOP_SECONDS)

    def _answering(self) -> Answering | None:
        """Who tells whose link a token is of; None where the site has no links."""
        paging = self._setup.file.paging
        if paging.link_base is None:
            return None
        links = AnswerLinks(answer_key(self._folder), paging.link_base, micros(paging.link_hours * 3600))
        return Answering(links, self._folder / DATABASE)

    def _embedded(self, session: Session) -> str:
        """Start the broker that comes with us; its address."""
        settings = self._setup.file.broker
        options = BrokerOptions(
            sync_interval=settings.sync_interval,
            max_ack_pending=window_for(len(session.topics)),
            users=_users(settings),
        )
        broker = EmbeddedBroker(self._folder / "broker", settings.host, settings.port, options)
        broker.start()
        self._parts.callback(broker.stop)
        return broker.url

    def _run(self, pump: Pump) -> None:
        thread = threading.Thread(target=self._live, args=(pump,), name="pump", daemon=True)
        thread.start()

        def end() -> None:
            pump.stop()
            thread.join(STOP_SECONDS)

        self._parts.callback(end)

    def _live(self, pump: Pump) -> None:
        try:
            pump.run()
        except BaseException as error:
            log.exception("the pump failed")
            self.failure = error
            try:
                self._inbox.close()
                pump.refuse_waiting()
            except Exception:
                log.exception("those who wait for an answer were not told")
            finally:
                self._on_crash(error)

    def _publish(self, feed: Feed) -> None:
        self.hub.publish(feed)

    def _ask(self, command: Command) -> Future[list[Event]]:
        if self._stopping:
            answer: Future[list[Event]] = Future()
            answer.set_exception(_stopped())
            return answer
        return self._hand_in(command)

    def _hand_in(self, command: Command, trying: Trying | None = None) -> Future[list[Event]]:
        """As ``_ask``, as long as there is a pump: what became of a page is still told while the gateway stops."""
        answer: Future[list[Event]] = Future()
        if self._inbox.closed:
            answer.set_exception(_stopped())
        elif not self._inbox.offer_urgent(Asked(command, answer, trying)):
            answer.set_exception(BusyError("Sinkside is busy; ask again in a moment."))
        return answer


def _stopped() -> StoppedError:
    return StoppedError("Sinkside is stopping; ask again in a moment.")


def _users(settings: BrokerSettings) -> dict[str, str]:
    """Who may use the embedded broker; nobody named, and everybody who reaches it may."""
    if settings.username is None:
        return {}
    password = settings.at("mqtt://localhost").password()
    if not password:
        raise EndpointError("[broker] names a username without a password; add password_env or password_file")
    return {settings.username: password}


def clock_from(earliest: Micros, most_back: Micros) -> Clock:
    """The system's clock, begun no earlier than the journal's last entry.

    A system clock that was set back a little would otherwise hold all time at that entry, timers included, until it
    caught up.

    Raises:
        ClockError: it is behind that entry by more than ``most_back``; everything with a time would be refused.
    """
    clock = Clock()
    now = clock.now()
    behind = earliest - now
    if behind <= 0:
        return clock
    if behind > most_back:
        raise ClockError(
            f"The journal ends at {_utc(earliest)}, but the system's clock says {_utc(now)}: set the clock right; if it"
            " was wrong when the journal was written, name a new data folder."
        )
    log.error("The system's clock is %.0f s behind the journal's last entry: set it right.", behind / SECOND)
    first = iter((earliest,))
    wall = clock.wall
    return Clock(wall=lambda: next(first, None) or wall(), steady=clock.steady)


def _utc(instant: Micros) -> str:
    return f"{datetime.fromtimestamp(instant / SECOND, UTC):%Y-%m-%d %H:%M:%S} UTC"
