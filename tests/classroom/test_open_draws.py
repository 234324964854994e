"""Draws whose tries are kept for the next time are the draws that are found without."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from labkit.classroom import open_draws, users_cache
from labkit.classroom.open_draws import OpenDraws
from labkit.lab.draw import Scenario, draw
from labkit.lab.reading import read_lab_text

SEEDS = range(1, 41)
TEXT = """\
---
id: tiny
version: 1
title: Tiny
draw:
  a: {from: 0, to: 9}
  b: {from: 1, to: 9}
let:
  part: b / (a - 7)
valid:
  - {rule: a > b, because: A is the larger.}
---
```exercise one
kind: quantity
title: One
question: One?
answer: part
unit: m
marks: 1
working: a
```
"""
LAB = read_lab_text(TEXT, "lab.md")


@pytest.fixture(autouse=True)
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(users_cache.CACHE_VARIABLE, str(tmp_path / "cache"))
    return tmp_path / "cache"


@pytest.fixture
def looked(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The seeds whose tries were looked for."""
    seeds: list[str] = []

    def counted(lab: Any, seed: str) -> Scenario:
        seeds.append(seed)
        return draw(lab, seed)

    monkeypatch.setattr(open_draws, "draw", counted)
    return seeds


def drawn() -> list[Any]:
    """What each draw has; None where there is none."""
    draws = OpenDraws(LAB, "seen")
    found = [draws.draw(number) for number in SEEDS]
    draws.keep()
    return [one and (one.seed, one.tries, one.drawn) for one in found]


def test_kept_draws_are_the_same_and_looked_for_once(looked: list[str]) -> None:
    first = drawn()
    assert None in first
    assert len(looked) == len(SEEDS)
    assert drawn() == first
    assert looked[len(SEEDS) :] == ["seen 40"]


def test_another_word_or_another_lab_is_kept_apart(cache: Path, looked: list[str]) -> None:
    drawn()
    del looked[:]
    other = read_lab_text(TEXT.replace("version: 1", "version: 2"), "lab.md")
    for lab, word in ((LAB, "other"), (other, "seen")):
        draws = OpenDraws(lab, word)
        draws.draw(1)
        draws.keep()
    assert looked == ["other 1", "seen 1"]
    assert len(list(cache.iterdir())) == 3


@pytest.mark.parametrize(
    "text",
    [
        b"",
        b"[1, 2",
        b"\xff\x00",
        b"{}",
        b'["1"]',
        b"[true]",
        b"[-1]",
        b"[1e3]",
        b"[9999999]",
        b"[" * 100_000,
        b"[" + b"9" * 5_000 + b"]",
    ],
)
def test_a_damaged_cache_is_as_good_as_none(cache: Path, text: bytes) -> None:
    first = drawn()
    (file,) = cache.iterdir()
    whole = file.read_bytes()
    file.write_bytes(text)
    assert drawn() == first
    assert file.read_bytes() == whole


def test_a_cache_whose_last_draw_is_another_is_made_again(cache: Path) -> None:
    first = drawn()
    (file,) = cache.iterdir()
    whole = file.read_bytes()
    file.write_text(json.dumps([1 + tries for tries in json.loads(whole)]))
    assert drawn() == first
    assert file.read_bytes() == whole


def test_where_nothing_can_be_kept_the_draws_are_the_same(cache: Path) -> None:
    first = drawn()
    for file in cache.iterdir():
        file.unlink()
    cache.rmdir()
    cache.write_text("a file where the folder would be")
    assert drawn() == first
