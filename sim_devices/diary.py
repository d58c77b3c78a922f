"""What the simulated department remembers between two starts on the same data folder."""

from pathlib import Path
from typing import Literal, Self

from pydantic import BaseModel, ConfigDict, ValidationError

from rules.readings import Micros
from sim_devices.ward.deeds import Deed

FILE_NAME = "demo-department.json"

MOST_BY_HAND = 1000
"""So many deeds of hands are remembered (ours); those beyond are forgotten at the end."""


class DiaryError(RuntimeError):
    """The diary cannot be read; the message says which file and how to mend it."""


class ByHand(BaseModel):
    """Somebody from outside did something at an instant of the ward's life."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    at: Micros
    deed: Deed


class Diary(BaseModel):
    """When the department was first started, and until when it is known to have been heard.

    seed, epoch: what its life is a function of.
    heard: until when every device's words have reached the broker; None while that is not known.
    entered: until when people have entered what they did; None before the first of it.
    by_hand: what was done by hand, the first first.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    version: Literal[1] = 1
    seed: int
    epoch: Micros
    heard: Micros | None = None
    entered: Micros | None = None
    by_hand: tuple[ByHand, ...] = ()

    @classmethod
    def opened(cls, folder: Path, now: Micros, seed: int) -> Self:
        """The folder's diary, begun now where there is none.

        Raises:
            DiaryError: the file is there but is no diary.
        """
        path = folder / FILE_NAME
        if not path.exists():
            begun = cls(seed=seed, epoch=now)
            begun.keep(folder)
            return begun
        try:
            return cls.model_validate_json(path.read_bytes())
        except ValidationError as error:
            raise DiaryError(
                f"{path} is not a diary of the simulated department that this version knows; "
                "remove it to begin a new department, or use another data folder"
            ) from error

    def with_deed(self, at: Micros, deed: Deed) -> Self:
        """It, with something more that was done by hand."""
        return self.model_copy(update={"by_hand": (*self.by_hand, ByHand(at=at, deed=deed))[:MOST_BY_HAND]})

    def keep(self, folder: Path) -> None:
        """Write it to the folder, whole or not at all."""
        folder.mkdir(parents=True, exist_ok=True)
        fresh = folder / f"{FILE_NAME}.new"
        fresh.write_text(self.model_dump_json() + "\n", encoding="utf-8")
        fresh.replace(folder / FILE_NAME)
