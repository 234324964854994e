"""A controller's chassis: slots counted from 0 beside the supply, modules with their nameplates.

What is planned is compared with what is mounted: the slot, the type and the revision that the
nameplate says. Counting slots from 0 beside the supply is common practice, no source. A revision
has two numbers, which the identity object calls major and minor (CIP common specification, from
memory); the nameplates of our labs name them edition and fix.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum

from labkit.fieldbus.checked import whole
from labkit.fieldbus.errors import PlanError

MOST_SLOTS = 17
"""Our own bound on the slots of a chassis that is drawn."""

_REVISION = re.compile(
    r"""(?:(?:edition|ed\.?)\s*:?\s*)?  0*(\d{1,3})
        (?:\s*[./·-]\s* | [,;]?\s+ | \s*(?:[,;/]|and)?\s*fix\s*:?\s*)
        0*(\d{1,3})""",
    re.IGNORECASE | re.VERBOSE,
)


@dataclass(frozen=True, slots=True, order=True)
class Revision:
    """A module's revision, two whole numbers: fix 12 of an edition is later than fix 2."""

    major: int
    minor: int

    def __post_init__(self) -> None:
        whole(self.major, "the major revision", 0, 999)
        whole(self.minor, "the minor revision", 0, 999)

    @classmethod
    def from_text(cls, text: str) -> "Revision":
        """Read `edition 4, fix 12`, shorter forms of it such as `4 fix 12` and `4/12`, or `4.12`.

        Zeros in front do not count. Raises `PlanError` for anything else.
        """
        found = _REVISION.fullmatch(text.strip()) if isinstance(text, str) else None
        if found is None:
            raise PlanError(f"'{text}' is no revision; it has two numbers, as on the nameplate.")
        return cls(int(found[1]), int(found[2]))

    def __str__(self) -> str:
        return f"edition {self.major}, fix {self.minor}"


@dataclass(frozen=True, slots=True)
class Module:
    """A module as its nameplate describes it: what it is, its type code, its revision."""

    what: str
    type_code: str
    revision: Revision

    def __post_init__(self) -> None:
        for text, name in ((self.what, "kind"), (self.type_code, "type code")):
            if not isinstance(text, str) or not text.strip():
                raise PlanError(f"a module needs a {name}, not {text!r}; read its nameplate.")


@dataclass(frozen=True, slots=True)
class Chassis:
    """So many slots, and the modules by name in the slots that they are mounted in."""

    slots: int
    modules: Mapping[str, Module]
    mounted: Mapping[str, int]

    def __post_init__(self) -> None:
        whole(self.slots, "the number of slots", 1, MOST_SLOTS)
        if set(self.modules) != set(self.mounted):
            raise PlanError("every module needs one slot, and every slot's module a nameplate.")
        for name, slot in self.mounted.items():
            whole(slot, f"the slot of {name}", 0, self.slots - 1)
            if list(self.mounted.values()).count(slot) > 1:
                raise PlanError(f"two modules are mounted in slot {slot}; move one.")

    def faults(self, planned: Mapping[str, int]) -> tuple["SlotFault", ...]:
        """Where planned slots differ from the mounted ones, by module; none when all agree.

        A module that `planned` leaves out is missing; a slot outside the chassis is said so.
        """
        return tuple(
            fault for name in self.mounted if (fault := self._fault(name, planned)) is not None
        )

    def pattern(self, planned: Mapping[str, int]) -> "Pattern | None":
        """The one mistake that explains all wrong slots, if there is one."""
        wrong = [name for name in self.mounted if planned.get(name) != self.mounted[name]]
        if any(name not in planned for name in wrong) or not wrong:
            return None
        if len(wrong) == len(self.mounted) > 1:
            shifts = {planned[name] - self.mounted[name] for name in wrong}
            if shifts == {1}:
                return Pattern.FROM_ONE
        if len(wrong) == 2:
            one, other = wrong
            if planned[one] == self.mounted[other] and planned[other] == self.mounted[one]:
                return Pattern.SWAPPED
        return None

    def _fault(self, name: str, planned: Mapping[str, int]) -> "SlotFault | None":
        if name not in planned:
            return SlotFault(name, None, f"{name} is not on the board yet.")
        slot = planned[name]
        if not 0 <= slot < self.slots:
            sentence = f"{name} is in slot {slot}; the chassis has slots 0 to {self.slots - 1}."
            return SlotFault(name, slot, sentence)
        if slot == self.mounted[name]:
            return None
        here = next((each for each, at in self.mounted.items() if at == slot), None)
        there = f"{here} is mounted there" if here else "nothing is mounted there"
        return SlotFault(name, slot, f"{name} is planned in slot {slot}, but {there}.")


@dataclass(frozen=True, slots=True)
class SlotFault:
    """A module whose planned slot (None: not planned) is not where it is mounted."""

    module: str
    slot: int | None
    sentence: str


class Pattern(Enum):
    """A mistake that explains every wrong slot at once."""

    FROM_ONE = "slots counted from 1"
    SWAPPED = "two modules swapped"
