"""The one shape of a refusal: what was wrong, where, what would do."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Problem:
    """A fault told to a person or a program.

    code: stable, lower snake case. message: what was wrong and what would do, in the reader's words; it never
    echoes a secret. field: dotted path of what is meant, "" for the whole.
    """

    code: str
    message: str
    field: str = ""

    def as_dict(self) -> dict[str, str]:
        """Return the problem as the JSON object that every error answer holds under "error"."""
        return {"code": self.code, "message": self.message, "field": self.field}


class Refused(Exception):
    """Raised where a request cannot be taken; carries the problem and the HTTP status it stands for."""

    def __init__(self, problem: Problem, status: int = 400) -> None:
        super().__init__(problem.message)
        self.problem = problem
        self.status = status
