"""All kinds share one page: no kind may style, or by chance use, a class of another's.

A sheet that several kinds load (`elements`, `cells` …) is shared: its classes mean the same
everywhere. And no sheet may be forgotten: each belongs to a module that a widget loads.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import permutations
from pathlib import Path

import pytest

from labkit.doors.installed import kinds, page_for
from labkit.front_end.page_modules import SHARED, TOKENS, page_modules, sheets

HOUSE = SHARED.parent
PLACES = ("front_end/*", "kinds/*/*", "station/widgets/*")
FILES = {
    file.name: file
    for place in PLACES
    for file in sorted(HOUSE.glob(place))
    if file.suffix in (".js", ".css") and file != TOKENS
}
PANELS = [
    HOUSE / "station" / "widgets" / f"{name}.js"
    for name in ("welcome", "picture", "hand_in", "warm_up")
]
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
        names = (f"{stem}{ending}" for stem in sorted(self.stems))
        texts = (FILES[name].read_text("utf-8") for name in names if name in FILES)
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


def _stems(entry: Path) -> tuple[str, ...]:
    return tuple(module.path.stem for module in page_modules(entry))


def _loaded() -> dict[str, tuple[str, ...]]:
    """The modules of every kind of this package, and of the panels, by the widget's own module."""
    scripts = [page_for(kind).script_file() for kind in sorted(kinds())]
    entries = [script for script in scripts if script.is_relative_to(HOUSE)]
    return {entry.stem: _stems(entry) for entry in [*entries, *PANELS]}


def _parts() -> list[Part]:
    loaded = _loaded()
    stems = {stem for modules in loaded.values() for stem in modules}
    shared = {stem for stem in stems if sum(stem in each for each in loaded.values()) > 1}
    parts = [
        Part(stem, frozenset({stem}), frozenset(_stems(FILES[f"{stem}.js"])) - {stem})
        for stem in sorted(shared)
    ]
    for kind, modules in loaded.items():
        parts.append(Part(kind, frozenset(modules) - shared, frozenset(modules) & shared))
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
    assert {"elements", "cells", "dragging", "byte_grid", "caution"} <= set(PARTS)
    assert {"diagnosis", "wiring", "plan_board", "hand_in", "choice"} <= set(PARTS)
    assert PARTS["diagnosis"].stems >= {"diagnosis", "bench_line", "look_back"}
    assert PARTS["wiring"].loads >= {"elements", "frame", "dragging"}
    assert "lk-button" in OWN["elements"]
    assert "lk-chip" in OWN["dragging"]
    assert "lk-toggle" in OWN["wiring"]


def test_every_module_and_every_sheet_is_loaded_by_a_widget() -> None:
    loaded = {stem for modules in _loaded().values() for stem in modules}
    assert sorted(name for name, file in FILES.items() if file.stem not in loaded) == []


def test_a_widget_has_the_sheet_of_every_module_it_loads() -> None:
    for name, modules in _loaded().items():
        text = sheets(FILES[f"{name}.js"])
        own = [FILES[f"{stem}.css"] for stem in modules if f"{stem}.css" in FILES]
        assert [sheet.name for sheet in own if sheet.read_text("utf-8") not in text] == []
        assert text.count("/* Colours follow") == ("elements" in modules)


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
