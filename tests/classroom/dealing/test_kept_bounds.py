"""A lab's bounds are worked out once for all classes, and anew where what is kept is no good."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from fair_class import CHECKED, FAIR_LAB

from labkit.classroom import users_cache
from labkit.classroom.dealing import kept_bounds
from labkit.classroom.dealing.fairness import bounds_of
from labkit.classroom.dealing.kept_bounds import usual_bounds
from labkit.classroom.dealt import Bounds
from labkit.lab.definition import Lab
from labkit.lab.reading import read_lab_text

LAB = FAIR_LAB.replace("LAST", "5000")


@pytest.fixture
def lab() -> Lab:
    return read_lab_text(LAB)


@pytest.fixture
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(users_cache.CACHE_VARIABLE, str(tmp_path / "cache"))
    return tmp_path / "cache"


@pytest.fixture
def worked_out(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The labs whose bounds were worked out, in order."""
    found: list[str] = []

    def counted(lab: Lab, spread: float | None, equal: int | None) -> Bounds:
        found.append(lab.id)
        return bounds_of(lab, spread, equal)

    monkeypatch.setattr(kept_bounds, "bounds_of", counted)
    return found


def test_the_next_class_has_the_same_bounds_without_sample_draws(
    lab: Lab, cache: Path, worked_out: list[str]
) -> None:
    first = usual_bounds(lab, None, None)
    assert (first.copyable, first.always) == (CHECKED, ("parity",))
    assert usual_bounds(read_lab_text(LAB), None, None) == first == bounds_of(lab)
    assert worked_out == ["fair"]
    (kept,) = cache.iterdir()
    assert not [id_ for id_ in CHECKED if id_ in kept.read_text()]
    if os.name == "posix":
        assert (cache.stat().st_mode & 0o777, kept.stat().st_mode & 0o777) == (0o700, 0o600)


def test_other_text_wishes_rules_and_labkit_have_bounds_of_their_own(
    lab: Lab, cache: Path, worked_out: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    usual_bounds(lab, None, None)
    usual_bounds(lab, 2.0, None)
    usual_bounds(lab, None, 2)
    usual_bounds(replace(lab, digest="0" * 64), None, None)
    monkeypatch.setattr(users_cache, "rules_of", lambda _: "other rules")
    usual_bounds(lab, None, None)
    monkeypatch.setattr(users_cache, "__version__", "99")
    usual_bounds(lab, None, None)
    assert len(worked_out) == len(list(cache.iterdir())) == 6


DAMAGES: list[Callable[[bytes], bytes]] = [
    lambda kept: kept[:-9],
    lambda _: b"",
    lambda _: b"[]",
    lambda kept: kept.replace(b'"of":"', b'"of":"0'),
    lambda kept: kept.replace(b'"equal":', b'"equal":"two","was":'),
    lambda kept: json.dumps({**json.loads(kept), "copyable": [0, 99]}).encode(),
    lambda kept: json.dumps({**json.loads(kept), "copyable": [-1]}).encode(),
    lambda kept: json.dumps({**json.loads(kept), "equal": -1}).encode(),
    lambda kept: json.dumps({**json.loads(kept), "low": 9, "high": 1}).encode(),
]


@pytest.mark.parametrize("damage", DAMAGES)
def test_what_is_damaged_or_foreign_is_made_again(
    damage: Callable[[bytes], bytes], lab: Lab, cache: Path, worked_out: list[str]
) -> None:
    right = usual_bounds(lab, None, None)
    (kept,) = cache.iterdir()
    whole = kept.read_bytes()
    kept.write_bytes(damage(whole))
    assert usual_bounds(lab, None, None) == right
    assert len(worked_out) == 2
    assert kept.read_bytes() == whole


def test_a_cache_that_cannot_be_had_is_done_without(
    lab: Lab, cache: Path, worked_out: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    cache.write_text("not a folder")
    right = usual_bounds(lab, None, None)
    assert usual_bounds(lab, None, None) == right
    monkeypatch.delenv(users_cache.CACHE_VARIABLE)
    # What comes of "~" where the system knows of no home.
    monkeypatch.setattr(users_cache, "user_cache_path", lambda *_, **__: Path("~/.cache/labkit"))
    monkeypatch.chdir(cache.parent)
    assert usual_bounds(lab, None, None) == right
    assert len(worked_out) == 3
    assert not Path("~").exists()
