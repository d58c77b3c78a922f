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
        most = max(self.rinses, rinses)
        return Residue(soak, most) if most else CLEAN

    def rinsed(self, times: int) -> "Residue":
        """Rinsed so often more; clean is clean, however often it is rinsed."""
        done = self.done + times
        return self._replace(done=done) if done < self.rinses else CLEAN


CLEAN = Residue()
"""Nothing is left on it."""
