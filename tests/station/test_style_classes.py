"""All kinds share one page: no kind may style, or by chance use, a class of another's.

A sheet that several kinds load (`frame`, `cells` …) is shared: its classes mean the same
everywhere.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import permutations
from pathlib import Path

import pytest

from labkit.doors.installed import kinds, widget_for
from labkit.station import widgets

FOLDER = Path(widgets.__file__).parent
FRAME = "frame"
COMMENT = re.compile(r"/\*.*?\*/|(?<!:)//[^\n]*", re.DOTALL)
CLASS = re.compile(r"\.(lk-[\w-]+)")
# In a script: "lk-look", and `lk-look-${colour}`, which stands for all that begin so.
NAMED = re.compile(r"(?<![\w-])lk-[\w-]*\w-?")
KEYFRAME = re.compile(r"^(from|to|[\d.]+%)$")


@dataclass(frozen=True)
class Part:
    """What one kind alone loads, or one shared pair of script and sheet."""

    name: str
    stems: frozenset[str]
    loads: frozenset[str]
    """The shared stems that are loaded with it."""

    def text(self, ending: str) -> str:
        """Its scripts or its sheets, without comments."""
        files = (FOLDER / f"{stem}{ending}" for stem in sorted(self.stems))
        texts = (file.read_text("utf-8") for file in files if file.exists())
        return COMMENT.sub("", "\n".join(texts))

    def selectors(self) -> list[str]:
        """Every selector of its sheets, one of a list at a time."""
        preludes = re.findall(r"([^{};]+)\{", self.text(".css"))
        lists = [p.strip() for p in preludes if not p.strip().startswith("@")]
        return [one.strip() for each in lists for one in _split(each) if not KEYFRAME.match(one)]

    def styled(self) -> frozenset[str]:
        """Every class that a selector of its sheets names, and its keyframes."""
        frames = re.findall(r"@keyframes\s+([\w-]+)", self.text(".css"))
        return frozenset(CLASS.findall(" ".join(self.selectors()))) | {f"@{f}" for f in frames}


def _split(selectors: str) -> list[str]:
    """A list of selectors at its commas, but not at those in brackets."""
    return [part.strip() for part in re.split(r",(?![^(]*\))", selectors)]


def _loaded() -> dict[str, tuple[str, ...]]:
    """The scripts of every kind of this package, and of the panels, by the last script's name."""
    found = {}
    for kind in kinds():
        scripts = widget_for(kind).scripts
        if scripts and all((FOLDER / f"{stem}.js").exists() for stem in scripts):
            found[scripts[-1]] = (FRAME, *scripts)
    taken = {stem for scripts in found.values() for stem in scripts}
    files = {file.stem for file in FOLDER.iterdir() if file.suffix in (".js", ".css")}
    return found | {stem: (FRAME, stem) for stem in sorted(files - taken)}


def _parts() -> list[Part]:
    loaded = _loaded()
    stems = {stem for scripts in loaded.values() for stem in scripts}
    shared = {stem for stem in stems if sum(stem in each for each in loaded.values()) > 1}
    parts = [Part(FRAME, frozenset({FRAME}), frozenset())]
    parts += [Part(s, frozenset({s}), frozenset({FRAME})) for s in sorted(shared - {FRAME})]
    for kind, scripts in loaded.items():
        parts.append(Part(kind, frozenset(scripts) - shared, frozenset(scripts) & shared))
    return parts


PARTS = {part.name: part for part in _parts()}
STYLED = {name: part.styled() for name, part in PARTS.items()}
OWN = {
    name: STYLED[name].difference(*(STYLED[other] for other in part.loads))
    for name, part in PARTS.items()
}


def _strangers() -> Iterator[tuple[Part, Part]]:
    """Every two parts of which the first does not load the second."""
    for one, other in permutations(PARTS.values(), 2):
        if other.name not in one.loads:
            yield one, other


def test_the_sheets_are_found() -> None:
    assert {"frame", "cells", "dragging", "byte_grid", "caution"} <= set(PARTS)
    assert {"diagnosis", "wiring", "plan_board", "hand_in", "choice"} <= set(PARTS)
    assert PARTS["diagnosis"].stems >= {"diagnosis", "bench_line", "look_back"}
    assert PARTS["wiring"].loads == {"frame", "dragging"}
    assert "lk-button" in OWN["frame"]
    assert "lk-chip" in OWN["dragging"]
    assert "lk-toggle" in OWN["wiring"]


def test_no_class_is_styled_by_two_kinds() -> None:
    twice = [
        f"{name}: {one.name} and {other.name}"
        for one, other in _strangers()
        if one.name not in other.loads
        for name in sorted(STYLED[one.name] & OWN[other.name])
    ]
    assert twice == []


@pytest.mark.parametrize("part", PARTS.values(), ids=lambda part: part.name)
def test_every_selector_reaches_only_what_is_its_own(part: Part) -> None:
    own = OWN[part.name]
    assert [s for s in part.selectors() if not own & set(CLASS.findall(s))] == []


@pytest.mark.parametrize("part", PARTS.values(), ids=lambda part: part.name)
def test_no_script_uses_a_class_that_a_stranger_styles(part: Part) -> None:
    names = set(NAMED.findall(part.text(".js")))
    strange = [
        f"{name} is styled by {other.name}"
        for one, other in _strangers()
        if one is part
        for name in sorted(OWN[other.name])
        if name in names or any(each.endswith("-") and name.startswith(each) for each in names)
    ]
    assert strange == []
