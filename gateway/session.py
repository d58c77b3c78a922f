"""What the broker remembers of us from run to run: a client id, and under it the topics that we once asked for."""

import tomllib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Self

from pydantic import ValidationError

from gateway.journal import Epoch
from gateway.law import recorded_site
from gateway.wire import topics_of
from rules.site import Site


@dataclass(frozen=True, slots=True)
class Session:
    """A session at the broker, which lasts beyond a connection and a run.

    client_id: its name.
    topics: what to hear.
    former: what an earlier run may have asked for and this one does not.
    left_behind: the name of the session of the last run, if that had another; the broker goes on collecting for it.
    """

    client_id: str
    topics: tuple[str, ...]
    former: tuple[str, ...]
    left_behind: str | None

    @classmethod
    def of(cls, site: Site, epochs: Iterable[Epoch], *, is_embedded: bool) -> Self:
        """The session of a site whose journal has these epochs.

        With a broker of our own it keeps its first name even if the site gets another id, because a session that nobody
        takes up again would fill the disk. A broker of others may have a session for every site.
        """
        past = tuple(_readable(epochs))
        topics = topics_of(site, all_sites=is_embedded)
        asked = {topic for old in past for all_sites in (True, False) for topic in topics_of(old, all_sites=all_sites)}
        name = _name(past[0] if is_embedded and past else site)
        left = _name(past[-1]) if past and not is_embedded else name
        return cls(name, topics, tuple(sorted(asked.difference(topics))), None if left == name else left)


def _name(site: Site) -> str:
    return f"sinkside-{site.site.id}"


def _readable(epochs: Iterable[Epoch]) -> Iterator[Site]:
    """The sites of the epochs, without those that this version cannot read any more."""
    for epoch in epochs:
        try:
            yield recorded_site(epoch)
        except (tomllib.TOMLDecodeError, ValidationError):
            continue
