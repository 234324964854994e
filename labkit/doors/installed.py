"""The kinds and families that are installed, found by entry point and loaded part by part."""

from __future__ import annotations

from functools import lru_cache
from importlib.metadata import EntryPoint, entry_points
from pkgutil import resolve_name
from typing import TYPE_CHECKING, Any, Final, cast

from labkit.doors.check import Check
from labkit.doors.family import BenchReading, Family, FamilyBench, NodeSettings
from labkit.doors.frames import FamilyFrames, FrameReading
from labkit.doors.kind import Kind, KindReader
from labkit.doors.listening import FamilyListening
from labkit.doors.network import NetworkFamily
from labkit.doors.page import ExercisePage
from labkit.doors.plans import FamilyPlans
from labkit.doors.review import FamilyReview
from labkit.doors.supply import FamilySupply
from labkit.doors.switches import FamilySwitches
from labkit.errors import LabkitError

if TYPE_CHECKING:
    from labkit.doors.rig import FamilyRig

KINDS: Final = "labkit.kinds"
FAMILIES: Final = "labkit.families"
_OURS: Final = "labkit"
_USUAL_RIG: Final = "labkit.doors.rig:UsualRig"
"""Loaded with the virtual bench, which dealing and marking do without."""


class NotInstalledError(LabkitError):
    """A kind, a family or a part of a family that a task file needs is not installed here."""

    def __init__(self, what: str) -> None:
        super().__init__(
            f"This laptop's labkit does not know {what}. Ask your instructor to install the "
            "package that brings it."
        )


class NotOfferedError(NotInstalledError):
    """A family that is installed leaves a part out; `what` names it for a lab's author.

    `why` is the family's own sentence on it, "" where it says none.
    """

    def __init__(self, what: str, family: str, why: str = "") -> None:
        super().__init__(f"{what} of the network family '{family}'")
        self.what = what
        self.why = why


def kinds() -> frozenset[str]:
    """The names of all exercise kinds."""
    return frozenset(_found(KINDS))


def families() -> frozenset[str]:
    """The names of all network families."""
    return frozenset(_found(FAMILIES))


@lru_cache(maxsize=64)
def kind_named(name: str) -> Kind:
    """What a kind says of itself. Raises `NotInstalledError`."""
    return cast(Kind, _loaded(KINDS, name, "exercise kind"))


def check_for(kind: str) -> Check:
    """The check of an exercise kind. Raises `NotInstalledError`."""
    return cast(Check, _part(kind_named(kind).check)())


def reader_for(kind: str) -> KindReader:
    """The reader of an exercise kind. Raises `NotInstalledError`."""
    return cast(KindReader, _part(kind_named(kind).read)())


def page_for(kind: str) -> type[ExercisePage]:
    """The page of an exercise kind. Raises `NotInstalledError`."""
    return cast(type[ExercisePage], _part(kind_named(kind).page))


@lru_cache(maxsize=16)
def family_named(name: str) -> Family:
    """What a family says of itself. Raises `NotInstalledError`."""
    return cast(Family, _loaded(FAMILIES, name, "network family"))


def network_for(family: str) -> NetworkFamily:
    """How a family's networks are read and drawn. Raises `NotInstalledError`."""
    return cast(NetworkFamily, _part(family_named(family).network)())


def bench_for(family: str) -> FamilyBench:
    """A family's part of the virtual bench. Raises `NotInstalledError`."""
    return cast(FamilyBench, _offered(family_named(family).bench, "virtual bench", family))


def bench_reading_for(family: str) -> BenchReading:
    """How a lab's words become a bench of a family. Raises `NotInstalledError`."""
    place = family_named(family).bench_reading
    return cast(BenchReading, _offered(place, "virtual bench", family)())


def nodes_for(family: str) -> NodeSettings:
    """What is set at a family's nodes. Raises `NotInstalledError`."""
    return cast(NodeSettings, _offered(family_named(family).nodes, "node settings", family))


def switches_for(family: str) -> FamilySwitches:
    """How a family's devices are set by switches. Raises `NotInstalledError`."""
    place = family_named(family).switches
    return cast(FamilySwitches, _offered(place, "switches on devices", family)())


def supply_for(family: str) -> FamilySupply:
    """Where a supply may stand on a family's trunk. Raises `NotInstalledError`."""
    place = family_named(family).supply
    return cast(FamilySupply, _offered(place, "trunk with one supply", family, "supply")())


def review_for(family: str) -> FamilyReview:
    """What is wrong with a drawing of a family's network. Raises `NotInstalledError`."""
    place = family_named(family).review
    return cast(FamilyReview, _offered(place, "drawings to review", family)())


def plans_for(family: str) -> FamilyPlans:
    """How a family judges whole plans, and switches them on. Raises `NotInstalledError`."""
    place = family_named(family).plans
    return cast(FamilyPlans, _offered(place, "whole plans", family, "plans")())


def frames_for(family: str) -> FamilyFrames:
    """What a family says of its frames. Raises `NotInstalledError`."""
    return cast(FamilyFrames, _offered(family_named(family).frames, "frames", family)())


def frame_reading_for(family: str) -> FrameReading:
    """How a lab's words become a family's frames. Raises `NotInstalledError`."""
    place = family_named(family).frame_reading
    return cast(FrameReading, _offered(place, "frames", family)())


def listening_for(family: str) -> FamilyListening:
    """How a log of a family's real network is held against a plan. Raises `NotInstalledError`."""
    place = family_named(family).listening
    return cast(FamilyListening, _offered(place, "logs of a real network", family)())


def rig_for(family: str) -> FamilyRig:
    """What a family says of its real rigs; what holds for all where it says nothing."""
    return cast("FamilyRig", _part(family_named(family).rig or _USUAL_RIG)())


def what_is_done(kind: str) -> str:
    """What a trainee does at an exercise of a kind, in its own words; "" where it says nothing."""
    return kind_named(kind).does


def package_of_kind(name: str) -> str:
    """The package that offers a kind, with its release; "" for our own."""
    return _package(_found(KINDS)[name])


def package_of_family_module(module: str) -> str:
    """The package that offers a family from a module's package, with its release; "" for ours."""
    top = module.partition(".")[0]
    points = _found(FAMILIES).values()
    return next((_package(p) for p in points if p.module.partition(".")[0] == top), "")


@lru_cache(maxsize=4)
def _found(group: str) -> dict[str, EntryPoint]:
    return {point.name: point for point in entry_points(group=group)}


def _loaded(group: str, name: str, what: str) -> Any:
    if name not in _found(group):
        raise NotInstalledError(f"the {what} '{name}'")
    return _found(group)[name].load()


def _offered(place: str | None, what: str, family: str, part: str = "") -> Any:
    if place is None:
        raise NotOfferedError(what, family, family_named(family).left_out.get(part, ""))
    return _part(place)


@lru_cache(maxsize=128)
def _part(place: str) -> Any:
    return resolve_name(place)


def _package(point: EntryPoint) -> str:
    if point.dist is None or point.module.partition(".")[0] == _OURS:
        return ""
    return f"{point.dist.name} {point.dist.version}"
