"""What a family has done at its devices, and how it names what every bench has: for a page's
buttons and words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

At = Literal["every", "scanner", "others", "outputs"]
"""The devices that a piece of work is offered at: `others` are all but the scanner."""


@dataclass(frozen=True, slots=True)
class Asks:
    """A field of a step that a person fills in: a choice of `options`, or else a number.

    `value` stands there at first, None: the device's planned address. `told` says it, with {} for
    the value.
    """

    field: str
    label: str
    told: str
    options: tuple[str, ...] = ()
    value: str | float | None = None
    least: float = 0
    most: float = 0
    is_text: bool = False

    def to_json(self) -> dict[str, Any]:
        """For the page."""
        return {
            "field": self.field,
            "label": self.label,
            "told": self.told,
            "options": list(self.options),
            "value": self.value,
            "range": [self.least, self.most],
            "is_text": self.is_text,
        }


@dataclass(frozen=True, slots=True)
class DeviceWork:
    """A step by a button at a device: its words, and what it asks for.

    `names_device` is false where the step has no field for it; `more` are fields that stand fixed.
    """

    kind: str
    words: str
    at: At = "every"
    asks: tuple[Asks, ...] = ()
    names_device: bool = True
    more: tuple[tuple[str, Any], ...] = ()

    def to_json(self) -> dict[str, Any]:
        """For the page."""
        return {
            "kind": self.kind,
            "words": self.words,
            "at": self.at,
            "asks": [each.to_json() for each in self.asks],
            "names_device": self.names_device,
            "more": dict(self.more),
        }


@dataclass(frozen=True, slots=True)
class BenchNames:
    """What a family calls what every bench has: who asks the others, an address, the two lamps."""

    scanner: str = "the scanner"
    ask: str = "Ask the scanner"
    address: str = "planned node"
    lamps: tuple[str, str] = ("network status", "module status")
    strips: str = "Network status indicator of every device over time"

    def to_json(self) -> dict[str, Any]:
        """For the page."""
        return {
            "scanner": self.scanner,
            "ask": self.ask,
            "address": self.address,
            "lamps": list(self.lamps),
            "strips": self.strips,
        }
