"""What an alert ought to do, written from the table of transitions after IEC 62682 / ISA-18.2 (secondary).

It shares nothing with the program: one alert, its states as the table names them, its timers as a list. Seconds
throughout.
"""

from dataclasses import dataclass, field

ON_DELAY, OFF_DELAY, REMIND, MOST_SHELVED = 5, 3, 600, 1800

CONDITION_CLEARS = {
    "seen": {"UNACK": "RTNUN", "ACKED": "NORM"},
    "cleared": {"UNACK": "NORM", "ACKED": "NORM"},
    "settled": {"UNACK": "LTUNK", "ACKED": "LTACK"},
}
ACKNOWLEDGED = {"UNACK": "ACKED", "RTNUN": "NORM", "LTUNK": "LTACK"}
ASKED_ANEW = {"ACKED": "UNACK", "LTACK": "LTUNK"}


@dataclass
class Model:
    """One alert.

    process: the state that the process and the answers imply. known: people were told, and it is not over.
    told: when people were told: raised, or made to look again. shelf: 'timed', 'one-shot' or ''.
    """

    until: str
    now: float = 0
    abnormal: bool = False
    designed: bool = False
    out: bool = False
    shelf: str = ""
    process: str = "NORM"
    known: bool = False
    told: list[float] = field(default_factory=list)
    over: list[float] = field(default_factory=list)
    timers: dict[str, float] = field(default_factory=dict)

    @property
    def active(self) -> bool:
        return self.process in {"UNACK", "ACKED"}

    @property
    def hidden(self) -> bool:
        return self.designed or self.out or bool(self.shelf)

    @property
    def shown(self) -> str:
        """What a screen shows."""
        if self.hidden and (self.known or self.active):
            return "OOSRV" if self.out else "DSUPR" if self.designed else "SHLVD"
        return self.process

    # ---- time ------------------------------------------------------------------------------------------------------

    def pass_time(self, until: float) -> None:
        while self.timers and min(self.timers.values()) <= until:
            due, name = min((due, name) for name, due in self.timers.items())
            del self.timers[name]
            self.now = due
            {"on": self._begin, "off": self._clear, "shelf": self._unshelve, "remind": self._remind}[name]()
        self.now = until

    # ---- the process -----------------------------------------------------------------------------------------------

    def see(self, *, abnormal: bool) -> None:
        if abnormal == self.abnormal:
            return
        self.abnormal = abnormal
        for name in ("on", "off"):
            self.timers.pop(name, None)
        if abnormal and not self.active:
            self.timers["on"] = self.now + ON_DELAY
        elif not abnormal and self.active:
            self.timers["off"] = self.now + OFF_DELAY

    def _begin(self) -> None:
        self.process = "UNACK"
        self.timers.pop("remind", None)
        if not self.hidden:
            self._tell()

    def _clear(self) -> None:
        self.timers.pop("remind", None)
        self.process = CONDITION_CLEARS[self.until][self.process] if self.known else "NORM"
        if self.shelf == "one-shot":
            self._off_the_shelf()
        self._end_if_normal()

    def _tell(self) -> None:
        self.process, self.known = "UNACK", True
        self.told.append(self.now)

    def _end_if_normal(self) -> None:
        """Over; what lies on the shelf for a time is kept there, whatever the process does."""
        if self.known and self.process == "NORM" and not self.shelf:
            self.known = False
            self.over.append(self.now)

    # ---- what hides it ---------------------------------------------------------------------------------------------

    def design(self, *, suppressed: bool) -> None:
        was = self.hidden
        self.designed = suppressed
        self._come_out(was)

    def serve(self, *, out: bool) -> None:
        was = self.hidden
        self.out = out
        self._come_out(was)

    def put_on_shelf(self, minutes: float, *, one_shot: bool) -> None:
        if self.known and not self.hidden and (self.active or not one_shot):
            self.shelf = "one-shot" if one_shot else "timed"
            self.timers["shelf"] = self.now + min(minutes * 60, MOST_SHELVED)

    def take_from_shelf(self) -> None:
        if self.shelf:
            self._unshelve()

    def _unshelve(self) -> None:
        was = self.hidden
        self._off_the_shelf()
        self._come_out(was)
        self._end_if_normal()

    def _off_the_shelf(self) -> None:
        self.shelf = ""
        self.timers.pop("shelf", None)

    def _come_out(self, was_hidden: bool) -> None:  # noqa: FBT001 - the state itself
        if was_hidden and not self.hidden and self.active:
            self.timers.pop("remind", None)
            self._tell()

    # ---- people ----------------------------------------------------------------------------------------------------

    def acknowledge(self) -> None:
        if not self.hidden and self.process in ACKNOWLEDGED:
            self.process = ACKNOWLEDGED[self.process]
            if self.process == "ACKED":
                self.timers["remind"] = self.now + REMIND
            self._end_if_normal()

    def take_over(self) -> None:
        if not self.hidden and self.process == "ACKED":
            self.timers["remind"] = self.now + REMIND

    def ask_anew(self) -> None:
        if self.known and not self.hidden:
            self.timers.pop("remind", None)
            # Declined while it waits it goes on waiting: whoever is paged next is told as if it were new.
            self.process = ASKED_ANEW.get(self.process, self.process)
            if self.process == "UNACK":
                self.told.append(self.now)

    def _remind(self) -> None:
        if not self.hidden and self.process == "ACKED":
            self._tell()

    def settle(self) -> None:
        if self.known and self.until == "settled" and not self.active:
            self._off_the_shelf()
            self.process = "NORM"
            self._end_if_normal()
