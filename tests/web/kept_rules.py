"""Routes compiled once for all applications of a process: half of what an application costs is compiling its routes."""

from typing import Any

from werkzeug.routing import Rule

_KEPT: dict[tuple[Any, ...], dict[str, Any]] = {}  # by what a rule says: what compiling it adds


class KeptRule(Rule):
    """A rule that takes what an earlier one with the same words was compiled to."""

    def compile(self) -> None:
        said = (self.rule, self.endpoint, self.subdomain, self.strict_slashes, self.merge_slashes, str(self.defaults))
        if said in _KEPT:
            vars(self).update(_KEPT[said])
            return
        before = {**vars(self), "arguments": set(self.arguments)}  # added to where it stands
        super().compile()
        _KEPT[said] = {name: value for name, value in vars(self).items() if name not in before or before[name] != value}
