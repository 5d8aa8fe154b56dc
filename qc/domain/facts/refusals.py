"""A rule's no: a stable code, and the words that the person reads where the work is."""


class Refusal(Exception):
    """A rule says no to an operation; raised before anything of it has an effect."""

    def __init__(self, code: str, reason: str) -> None:
        super().__init__(reason)
        self.code = code
        self.reason = reason
