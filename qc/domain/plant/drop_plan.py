"""Where a planning system drops its build plans for the server to take, and in whose name they come in."""

from dataclasses import dataclass

SESSION = "drop"  # what an operation that came by the folder names as its session


@dataclass(frozen=True, slots=True)
class DropPlan:
    """folder: an absolute path. in_name_of: the code of a planner.

    leave_wrong: wrong rows are left out and the rest is taken; otherwise a file with a wrong row is refused whole.
    """

    folder: str
    in_name_of: str
    leave_wrong: bool
