"""What all tests share: no test is timed, so a busy machine makes none of them fail.

In CI, where every test is asked for, Hypothesis takes the same examples each time: what fails there
fails again here with `LABKIT_REQUIRE_ALL=1`. Elsewhere it goes on looking for new ones.
"""

import gc
import os
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import read_once  # noqa: F401 - first: what comes after it imports `read_lab`
from hypothesis import settings
from same_secrets import SameSecrets
from set_clock import SetClock
from tiny_class import TINY_LAB, TINY_SECRET, MakeRoom, Room

from labkit.classroom.records import store

# Where Python is told to keep no compiled files, every command and kernel that a test starts
# would compile all that it imports.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False

LONG = ("room", "board", "workbook", "labs_room", Path(__file__).parent.name)
"""Folders of tests of which many files take half a minute."""

SAME_EXAMPLES = any(os.environ.get(name) for name in ("LABKIT_REQUIRE_ALL", "CI"))

settings.register_profile("labkit", deadline=None, derandomize=False)
settings.register_profile("labkit-ci", deadline=None, derandomize=True)
settings.load_profile("labkit-ci" if SAME_EXAMPLES else "labkit")


def pytest_configure(config: pytest.Config) -> None:
    """Workers take the files in the order that is made here, not those of most tests first."""
    config.option.loadscopereorder = False


def pytest_collection() -> None:
    """Twelve thousand tests are made, and none of them is thrown away."""
    gc.disable()


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The files that take longest begin first, so that no worker is left alone with one."""
    driven = {item.path for item in items if item.get_closest_marker("browser")}

    def turn(item: pytest.Item) -> int:
        if item.path in driven:
            return 0
        return 1 if item.path.parent.name in LONG else 2

    items.sort(key=turn)


def pytest_collection_finish() -> None:
    """What was made stays to the end: it is not looked through for rubbish again and again."""
    gc.freeze()
    gc.enable()


@pytest.fixture(scope="session", autouse=True)
def cache_of_its_own(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Nothing that is kept for the user of this machine is read or written.

    What one worker found out of a lab, such as its bounds, the others need not.
    """
    own = tmp_path_factory.getbasetemp()
    cache = (own.parent if "PYTEST_XDIST_WORKER" in os.environ else own) / "labkit-cache"
    cache.mkdir(mode=0o700, exist_ok=True)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LABKIT_CACHE", str(cache))
        patch.setenv("LABKIT_KEYS", str(tmp_path_factory.mktemp("keys")))
        yield


@pytest.fixture(scope="session", autouse=True)
def same_secrets() -> Iterator[None]:
    """Where no test writes a class's secret, it is one that every run gives."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("labkit.classroom.class_folder.secrets", SameSecrets())
        yield


@pytest.fixture(scope="session", autouse=True)
def nothing_waits_for_the_disk() -> Iterator[None]:
    """No test pulls the plug: what is written in this process need not lie on the disk itself.

    That `os.fsync` is called, and when, is held by tests that put their own in its place.
    """
    patiently = store._patiently

    def without_waiting(execute: Callable[[str], Any], statement: str, file: str | None) -> None:
        patiently(execute, statement.replace("synchronous = FULL", "synchronous = OFF"), file)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "fsync", lambda _: None)
        patch.setattr(store, "_patiently", without_waiting)
        yield


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> SetClock:
    """The one clock of this machine: what a test sets is what everything stamps."""
    return SetClock(monkeypatch)


@pytest.fixture
def make_room(tmp_path: Path) -> MakeRoom:
    """Make a class of some people, whose lab draws one number from 1 to `last`.

    The secret is always the same, so everybody has the same numbers in every run.
    """

    def make(*people: str, last: int = 100_000, **fields: str) -> Room:
        room = Room(tmp_path / "class", tmp_path / "library")
        (room.library / "tiny").mkdir(parents=True)
        text = TINY_LAB.replace("LAST", str(last))
        (room.library / "tiny" / "lab.md").write_text(text, encoding="utf-8")
        room.path.mkdir()
        secret = room.path / "class-secret.txt"
        secret.write_text(f"{TINY_SECRET}\n", encoding="utf-8")
        secret.chmod(0o600)
        room.write_class(**fields)
        room.write_roster(*(people or ("ann,Ann Orrel", "ben,Ben Tasker", "cy,Cy Morland")))
        return room

    return make
