"""What soaks leave on a probe until it is rinsed: their solution, whatever came of them."""

from typing import NamedTuple


class Residue(NamedTuple):
    """What is left on a probe.

    soak: its last one. rinses: how often it is to be rinsed since, 0 where nothing is left; done: how often it was.
    """

    soak: str = ""
    rinses: int = 0
    done: int = 0

    def soaked(self, soak: str, rinses: int) -> "Residue":
        """After another soak, which asks for so many rinses; one before that was not rinsed off asks for no less."""
        return Residue(soak, max(self.rinses, rinses))

    def rinsed(self, times: int) -> "Residue":
        """Rinsed so often more."""
        done = self.done + times
        return Residue(self.soak, self.rinses if done < self.rinses else 0, done)


CLEAN = Residue()
"""Nothing is left on it."""
