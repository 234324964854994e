"""Files of a stranger that try to read, run or fill: each ends in a sentence, and does nothing."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import threading
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
from hostile_labs import MADE, SECRET, SHOWN

from labkit.lab.reading import read_lab
from labkit.language.problems import DefinitionError

sys.path.append(str(Path(__file__).parents[1] / "proofing"))

from broken import SOUND

if not sys.platform.startswith("linux"):
    pytest.skip("needs pipes, devices and a limit of memory", allow_module_level=True)
MOST_S = 12
"""Of the processor, for all that is done with a lab; the slowest takes a tenth of it."""
LIVE = re.compile("<(?:script|video|img src='http)")
"""What would run, or fetch something."""
IN_CELLS = re.compile(r"(?<!\\)<(?:script|video)|(?<!\\)!\[[^\]]*\]\(http")
"""The same in a notebook, where it is text behind a '\\'."""
STEERING = re.compile(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u200b\u202a-\u202e\u2066-\u2069]")


@pytest.fixture(scope="module")
def came(tmp_path_factory: pytest.TempPathFactory) -> dict[str, dict[str, Any]]:
    """What came of each lab, in a process of little memory."""
    strange, kept = tmp_path_factory.mktemp("strangers"), tmp_path_factory.mktemp("kept")
    base, outside = strange / "labs", strange / "outside"
    base.mkdir()
    outside.mkdir()
    for name in ("secret.txt", "secret.png"):
        (outside / name).write_text(SECRET)
    (outside / "lab.md").write_text(SOUND.replace("Sound", SECRET))
    (outside / "notes.md").write_text(SOUND.replace("Sound", SECRET))
    for name, make in MADE.items():
        (base / name).mkdir()
        make(base / name, outside)
    (kept / "sound").mkdir()
    (kept / "sound" / "lab.md").write_text(SOUND, encoding="utf-8")
    before = _all(strange)
    child = Path(__file__).with_name("hostile_child.py")
    command = [sys.executable, str(child), str(base), str(kept)]
    ended = subprocess.run(
        command, capture_output=True, text=True, timeout=500, check=False, cwd=kept
    )
    assert ended.returncode == 0, ended.stderr[-2000:]
    assert _all(strange) == before
    assert not list(kept.rglob("ran"))
    lines = [json.loads(line) for line in ended.stdout.splitlines()]
    return {each["lab"]: each for each in lines}


def _all(folder: Path) -> dict[str, tuple[int, int]]:
    found = {}
    for at, folders, files in os.walk(folder):
        for name in (*folders, *files):
            state = os.lstat(os.path.join(at, name))
            found[os.path.join(at, name)] = (state.st_mtime_ns, state.st_size)
    return found


@pytest.mark.parametrize("name", MADE)
def test_it_ends_in_a_sentence_and_nothing_was_read_run_or_written(
    name: str, came: dict[str, dict[str, Any]]
) -> None:
    end = came[name]
    assert end["did"] == []
    assert end["seconds"] < MOST_S
    (said,) = end["said"]
    everything = [said, *end["made"], *end["cells"]]
    assert not [text[:500] for text in everything if SECRET in text or "Traceback" in text]
    assert name not in SHOWN or "scenarios drawn" in said
    assert name in SHOWN or "✗" in said
    assert not STEERING.search(said)
    assert [live[0] for text in end["made"] if (live := LIVE.search(text))] == []
    assert [live[0] for text in end["cells"] if (live := IN_CELLS.search(text))] == []
    assert len(said) < 30_000


def test_a_file_that_changes_while_it_is_read_is_one_or_the_other(tmp_path: Path) -> None:
    file, texts = tmp_path / "lab.md", (SOUND, SOUND.replace("title: Sound", "title: Other"))
    file.write_text(SOUND, encoding="utf-8")
    over = threading.Event()

    def write() -> None:
        while not over.is_set():
            for text in texts:
                with file.open("r+b") as stream:
                    stream.truncate(len(text) // 2)
                    stream.write(text.encode())
                    stream.truncate()

    writing = threading.Thread(target=write)
    writing.start()
    try:
        for _ in range(40):
            with suppress(DefinitionError):
                assert read_lab(file).title in ("Sound", "Other")
    finally:
        over.set()
        writing.join()
