"""The trade as pure functions and frozen value objects, standard library only.

Units are SI with the trade's habits (m, V, A, Ω, kbit/s); every number carries its source. A plan
that cannot exist raises `PlanError` with a sentence; a rule's outcome is a `RuleResult`. The public
names of a family are those of its sub-package (`devicenet`, `can`, `canopen`, `circuit`, `line`,
`ip`, `modbus`, `serial`); the modules beside them are public as they are. `README.md` here shows
how they are used.
"""

from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.result import RuleResult

__all__ = ["PlanError", "RuleResult"]
