"""The outcome of one rule of the trade applied to one plan."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class RuleResult:
    """One rule: what the plan has, what is allowed, and where it binds.

    `value` and `limit` are in `unit`. `where` names the place a technician would walk to.
    `source` is the publication, or "common practice, no source", or "from memory of …".
    A rule is an upper bound unless `at_least` is true.
    """

    rule: str
    value: float
    limit: float
    unit: str
    where: str
    source: str
    at_least: bool = False

    @property
    def margin(self) -> float:
        """What is left before the limit, in `unit`; negative when the rule is broken."""
        return self.value - self.limit if self.at_least else self.limit - self.value

    @property
    def ok(self) -> bool:
        """Whether the rule holds, a rounding error of 1e-9 of the limit allowed."""
        return self.margin >= -1e-9 * max(1.0, abs(self.limit))
