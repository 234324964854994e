"""Who hears whom on the bus, as the wiring lets them.

The wiring side of the bench makes an `Ears`; a family's traffic plays on it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Ears:
    """Who hears whom, as the wiring lets them.

    `hears[talker, listener]`: the listener reads every bit of the talker right at its sample
    point, were both set to the same rate; a pair left out does not hear. `stuck` names the devices
    that read a dominant level though nobody drives the bus.
    """

    hears: Mapping[tuple[str, str], bool]
    stuck: frozenset[str] = frozenset()

    @classmethod
    def groups(cls, *groups: Iterable[str], stuck: Iterable[str] = ()) -> Ears:
        """Ears where everyone in a group hears everyone in it, and nobody outside.

        >>> Ears.groups(["scanner", "valve"], ["lamp"]).hear("lamp", "valve")
        False
        """
        pairs = {
            (talker, listener): True
            for group in map(tuple, groups)
            for talker in group
            for listener in group
        }
        return cls(pairs, frozenset(stuck))

    def hear(self, talker: str, listener: str) -> bool:
        """Whether `listener` reads `talker`."""
        return talker == listener or self.hears.get((talker, listener), False)
