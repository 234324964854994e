"""Errors of the trade's calculations: sentences that say what is wrong, where, and what to do."""

from labkit.errors import LabkitError


class PlanError(LabkitError, ValueError):
    """A plan, frame, address or circuit that cannot exist, said in a sentence a technician reads.

    The sentence names the offending thing ("tap 3 at 120 m"), the rule it breaks and a mend.
    """
