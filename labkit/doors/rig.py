"""What a network family says of a real training rig: its parts, and what is set and seen there."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import Final, Protocol

from labkit.bench.bench import Bench
from labkit.bench.rig.by_hand import HandWork
from labkit.bench.rig.deck import Said
from labkit.bench.rig.parts import Parts
from labkit.bench.setup import Setup

SCANNER: Final = "scanner"


class FamilyRig(Protocol):
    """The part `rig` of a family. A family that leaves it out has `UsualRig`."""

    @property
    def kinds(self) -> Mapping[str, str]:
        """The kinds of its own faults that a hand may put in, each with what it is."""

    @property
    def parts(self) -> Parts:
        """How far real parts may lie from their plates, each with who says so."""

    def work(self, setup: Setup) -> Iterable[HandWork]:
        """Its own faults that a hand may put in: safe ones alone, such as what is set at switches.

        None of them changes the wiring (`Fault.wired`).
        """

    @property
    def words(self) -> Mapping[str, tuple[str, ...]]:
        """The words that `said` uses of a device, by instrument: "scanner" is whoever asks the
        others, "lamps" are indicators that the family's own rules decide."""

    def said(self, bench: Bench) -> Said:
        """What each instrument says of each device. The wiring is sound."""


class UsualRig:
    """What holds for every family."""

    kinds: Mapping[str, str] = MappingProxyType({})
    parts = Parts()
    words: Mapping[str, tuple[str, ...]] = MappingProxyType({})

    def work(self, setup: Setup) -> Iterable[HandWork]:  # noqa: ARG002
        """None of its own."""
        return ()

    def said(self, bench: Bench) -> Said:  # noqa: ARG002
        """Nothing is said."""
        return {}
