"""What judges: a site and its rules, with the texts that they were read from, so that the journal can keep them."""

import tomllib
from dataclasses import dataclass
from hashlib import sha256
from importlib.metadata import version
from typing import Self

from pydantic import ValidationError

from gateway.journal import Epoch
from gateway.schema import JournalError
from gateway.sitefile import Setup, shipped
from rules.reach import Channel
from rules.readings import Micros
from rules.ruleset import RuleBook, RuleError, load_book
from rules.site import Site


@dataclass(frozen=True, slots=True)
class Law:
    """A site and its rules.

    text, standard, labels: the site file, the standard rules and the label list, whole, as they were read.
    """

    site: Site
    book: RuleBook
    text: str
    standard: str
    labels: str

    @classmethod
    def of(cls, setup: Setup) -> Self:
        """A site file that was read, under the labels that come with this program."""
        return cls(setup.file, setup.book, setup.text, setup.standard, shipped("labels.csv"))

    @classmethod
    def recorded(cls, epoch: Epoch) -> Self:
        """What judged in an epoch, read again from the journal.

        Raises:
            JournalError: this program cannot read it any more.
        """
        try:
            site = recorded_site(epoch)
            book = load_book(site, epoch.standard, epoch.labels)
        except (tomllib.TOMLDecodeError, ValidationError, RuleError) as error:
            why = _count_of_misfits(error) if isinstance(error, ValidationError) else error
            text = f"The rules in force from input {epoch.from_input} on cannot be read by this version ({why})"
            raise JournalError(f"{text}; use version {epoch.program}, which wrote them.") from error
        return cls(site, book, epoch.site, epoch.standard, epoch.labels)

    @property
    def sha256(self) -> str:
        """Of the three texts: the same texts judge the same."""
        return sha256(f"{self.text}\0{self.standard}\0{self.labels}".encode()).hexdigest()

    def epoch(self, from_input: int, at: Micros) -> Epoch:
        """The entry of the journal with which this law takes over."""
        return Epoch(from_input, at, self.text, self.standard, self.labels, self.sha256, program_version())


def _count_of_misfits(error: ValidationError) -> str:
    count = error.error_count()
    return "1 value does not fit" if count == 1 else f"{count} values do not fit"


def recorded_site(epoch: Epoch) -> Site:
    """The site of an epoch, without what judges nothing: the gateway's own sections, and how channels are spoken to.

    Raises:
        tomllib.TOMLDecodeError, pydantic.ValidationError: this program cannot read it any more.
    """
    document = tomllib.loads(epoch.site)
    judges = {name: document[name] for name in document.keys() & Site.model_fields.keys()}
    if "channel" in judges:
        known = Channel.model_fields.keys()
        judges["channel"] = [{key: each[key] for key in each.keys() & known} for each in judges["channel"]]
    return Site.model_validate(judges)


def program_version() -> str:
    """The installed version of Sinkside."""
    return version("sinkside")
