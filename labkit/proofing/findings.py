"""What proof-reading finds: each kind of finding is a type with an id, a severity, a sentence."""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass, fields
from enum import StrEnum
from typing import Any, ClassVar, Final

from labkit.language.problems import Place

FEW: Final = 6
MAX_SHOWN: Final = 60


class Severity(StrEnum):
    """How much a finding matters."""

    MUST = "must be mended"
    LOOK = "look at it"
    NOTE = "note"


@dataclass(frozen=True, kw_only=True)
class Finding(ABC):
    """One thing found. `place` is where to mend it; `exercise` is "" for the lab as a whole.

    `seed` is that of a draw which shows it; "" where no draw does.
    """

    id: ClassVar[str]
    acceptable: ClassVar[bool] = True
    """Whether an author may let it stand with a reason."""
    usual: ClassVar[Severity] = Severity.MUST
    """How much it matters, where that does not hang on its figures."""
    place: Place
    exercise: str = ""
    seed: str = ""

    @property
    def severity(self) -> Severity:
        """How much it matters."""
        return self.usual

    @property
    def of(self) -> str:
        """The slip, name or value that it is of; "" where there is no such thing."""
        return ""

    @property
    @abstractmethod
    def sentence(self) -> str:
        """What is wrong, in plain words."""

    @property
    @abstractmethod
    def mend(self) -> str:
        """What would mend it."""

    def to_json(self) -> dict[str, Any]:
        """The finding as plain JSON data; its own figures are under `details`."""
        return {
            "id": self.id,
            "severity": self.severity.value,
            "file": self.place.file,
            "line": self.place.line,
            "field": self.place.field,
            "exercise": self.exercise,
            "of": self.of,
            "seed": self.seed,
            "sentence": self.sentence,
            "mend": self.mend,
            "details": {
                item.name: _plain(getattr(self, item.name))
                for item in fields(self)
                if item.name not in ("place", "exercise", "seed")
            },
        }


@dataclass(frozen=True, slots=True)
class Share:
    """So many draws out of so many."""

    count: int
    of: int

    @property
    def part(self) -> float:
        """The share, 0 to 1."""
        return self.count / self.of if self.of else 0.0

    def __str__(self) -> str:
        if self.count == self.of:
            return f"all {self.of} draws"
        percent = 100 * self.part
        return f"{self.count} of {self.of} draws ({percent:.{0 if percent >= 10 else 1}f} %)"


def _plain(value: Any) -> Any:
    return {"count": value.count, "of": value.of} if isinstance(value, Share) else value


def kinds_of_finding(base: type[Finding] = Finding) -> dict[str, type[Finding]]:
    """Every kind of finding by its id."""
    found: dict[str, type[Finding]] = {}
    for kind in base.__subclasses__():
        named = {kind.id: kind} if "id" in vars(kind) else {}  # others are only shared beginnings
        found |= {**named, **kinds_of_finding(kind)}
    return found


def shown(value: Any) -> str:
    """A value, cut short, as a sentence shows it."""
    text = f"{value:.6g}" if isinstance(value, float) else str(value)
    text = " ".join(text.split())
    return text if len(text) <= MAX_SHOWN else f"{text[: MAX_SHOWN - 1]}…"


def shown_values(values: dict[str, Any]) -> str:
    """The first few names with their values: "gap = 5, drop = 2"."""
    parts = [f"{name} = {shown(value)}" for name, value in list(values.items())[:FEW]]
    return ", ".join(parts) + (", …" if len(values) > FEW else "")
