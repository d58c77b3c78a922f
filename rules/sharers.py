"""Which probes were in which soak: found by the soak, without a look at each probe."""


class Sharers:
    """Probes by soak, as they are told of it; ids of both."""

    def __init__(self) -> None:
        self._by_soak: dict[str, set[str]] = {}

    def add(self, soak: str, probe: str) -> None:
        """The probe was in that soak."""
        self._by_soak.setdefault(soak, set()).add(probe)

    def drop(self, soak: str, probe: str) -> None:
        """It was not, or that is forgotten."""
        sharers = self._by_soak.get(soak, set())
        sharers.discard(probe)
        if not sharers:
            self._by_soak.pop(soak, None)

    def know(self, soak: str) -> bool:
        """Whether it is known of any probe that it was in that soak."""
        return soak in self._by_soak
