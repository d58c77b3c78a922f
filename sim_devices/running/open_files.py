"""How many connections this process may hold."""

import resource

BESIDES = 64
"""Files that are open besides the connections (ours)."""


class OpenFilesError(RuntimeError):
    """The system does not allow so many connections; one sentence says what to do."""


def allow(connections: int) -> None:
    """Raise the limit of open files as far as so many connections need.

    Raises:
        OpenFilesError: the system does not let it be raised so far.
    """
    needed = connections + BESIDES
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    if soft != resource.RLIM_INFINITY and soft < needed:
        try:
            resource.setrlimit(resource.RLIMIT_NOFILE, (needed, hard))
        except (ValueError, OSError) as error:
            raise OpenFilesError(
                f"{connections:,} devices need {needed:,} open files, and this system allows a process {hard:,}: raise"
                " that limit, or simulate a smaller site."
            ) from error
