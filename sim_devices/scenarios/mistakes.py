"""What is wrong with a scenario file."""


class ScenarioError(ValueError):
    """A scenario file cannot be used; problems: one sentence for each thing to mend."""

    def __init__(self, *problems: str) -> None:
        super().__init__("\n".join(problems))
        self.problems = problems
