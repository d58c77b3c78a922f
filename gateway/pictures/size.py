"""How large pictures are; loads nothing else."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Size:
    """Of a drawing in CSS px; em: height of its type."""

    width: int
    height: int
    em: float

    @property
    def is_narrow(self) -> bool:
        """Whether it is for a phone."""
        return self.width < _NARROW

    def high(self, height: float) -> "Size":
        """The same with another height."""
        return Size(self.width, round(height), self.em)


_NARROW = 600
SCREEN, PHONE = Size(1160, 620, 16), Size(350, 540, 13)
