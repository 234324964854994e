"""The file of drills: what it must hold to be used at all. One that does not fit offers none."""

from __future__ import annotations

import json
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest

from labkit.exchange.drill_file import draws_digest, drills_path, read_drills

DRAW: dict[str, Any] = {
    "draw": "drill-1",
    "picture": "",
    "texts": ["Read this."],
    "cautions": ["Mind that."],
    "drills": [
        {
            "exercise": {
                "id": "e",
                "number": 1,
                "kind": "quantity",
                "title": "How far",
                "question": "How far?",
                "marks": 2,
                "ask": {},
                "practice": {"key": {}, "working": "", "hints": []},
            },
            "texts": 1,
            "cautions": 1,
        }
    ],
}
WHOLE: dict[str, Any] = {"format": "labkit drills", "format_version": 1, "lab": "abc"}


def read(folder: Path, draws: Any, **other: Any) -> Any:
    """What is read of a file with these draws; its digest fits them."""
    file = folder / "a.drills.json"
    whole = {**WHOLE, "sha256": draws_digest(draws), "draws": draws, **other}
    file.write_text(json.dumps(whole), encoding="utf-8")
    return read_drills(file, "abc")


def changed(way: tuple[str | int, ...], value: Any) -> list[dict[str, Any]]:
    """The draw with another value at one place; none at all where the value is None."""
    draw = deepcopy(DRAW)
    group: Any = draw
    for step in way[:-1]:
        group = group[step]
    if value is None:
        del group[way[-1]]
    else:
        group[way[-1]] = value
    return [draw]


def test_what_fits_is_read(tmp_path: Path) -> None:
    assert read(tmp_path, [DRAW]) == [DRAW]
    assert read(tmp_path, changed(("drills", 0, "exercise", "marks"), 1.5))


WAYS: list[tuple[str | int, ...]] = [
    *((name,) for name in DRAW),
    *(("drills", 0, name) for name in DRAW["drills"][0]),
    *(("drills", 0, "exercise", name) for name in DRAW["drills"][0]["exercise"]),
    *(("drills", 0, "exercise", "practice", name) for name in ("key", "working", "hints")),
]


@pytest.mark.parametrize("way", WAYS, ids=lambda way: ".".join(map(str, way)))
def test_a_part_that_is_missing_or_of_another_type_is_not_used(
    tmp_path: Path, way: tuple[str | int, ...]
) -> None:
    assert read(tmp_path, changed(way, None)) == []
    held: Any = DRAW
    for step in way:
        held = held[step]
    assert read(tmp_path, changed(way, "words" if isinstance(held, list) else ["words"])) == []


@pytest.mark.parametrize("name", ["texts", "cautions"])
def test_what_is_read_before_a_drill_is_words(tmp_path: Path, name: str) -> None:
    assert read(tmp_path, changed((name,), ["words", 1])) == []


@pytest.mark.parametrize(
    "other",
    [
        {"format": "else"},
        {"format_version": 2},
        {"format_version": None},
        {"lab": "another"},
        {"lab": 1},
        {"sha256": "0" * 64},
        {"sha256": None},
    ],
)
def test_of_another_form_lab_or_digest_it_is_not_used(
    tmp_path: Path, other: dict[str, Any]
) -> None:
    assert read(tmp_path, [DRAW], **other) == []


@pytest.mark.parametrize("text", ["", "[]", "{", "[" * 100_000])
def test_a_damaged_file_offers_none(tmp_path: Path, text: str) -> None:
    file = tmp_path / "a.drills.json"
    assert read_drills(file, "abc") == []
    file.write_text(text, encoding="utf-8")
    assert read_drills(file, "abc") == []


def test_the_digest_is_of_the_json_not_of_how_it_is_written() -> None:
    turned = dict(reversed(DRAW.items()))
    assert list(turned) != list(DRAW)
    assert draws_digest([turned]) == draws_digest([DRAW])
    assert draws_digest([DRAW, DRAW]) != draws_digest([DRAW])


def test_it_lies_beside_its_task(tmp_path: Path) -> None:
    assert drills_path(tmp_path / "lab.task.json") == tmp_path / "lab.drills.json"
