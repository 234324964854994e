"""`labkit print` through a real process: what is written, and sentences where nothing can be."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest
from test_cli import NOT_BY_UV, fails, labkit


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A dealt class in a folder whose name needs care."""
    cwd = tmp_path_factory.mktemp("print [of x]")
    assert labkit("demo", "class [b]", cwd=cwd).returncode == 0
    return cwd / "class [b]"


def test_a_class_is_printed_and_every_path_that_is_named_is_there(demo: Path) -> None:
    done = labkit("print", demo.name, "--paper", "letter", cwd=demo.parent)
    assert (done.returncode, done.stderr) == (0, "")
    named = [Path(line.split(":", 1)[1].split("(")[0].strip()) for line in _files(done.stdout)]
    assert len(named) == 3
    assert all((demo.parent / path).exists() for path in named), named
    each = sorted((demo / "print" / "handouts").iterdir())
    assert [file.name for file in each] == [f"t{number:02}.html" for number in range(1, 13)]
    assert "size: Letter" in each[0].read_text("utf-8")
    assert "in a browser" in done.stdout


def _files(text: str) -> list[str]:
    return [line for line in text.splitlines() if re.search(r":\s+class \[b\]/print", line)]


def test_a_lab_is_printed_as_a_sample(tmp_path: Path) -> None:
    done = labkit("print", "plan-the-trunk", "--seed", "dock", "--to", "out", cwd=tmp_path)
    assert done.returncode == 0
    names = sorted(file.name for file in (tmp_path / "out").iterdir())
    assert names == ["plan-the-trunk-instructors-copy.html", "plan-the-trunk.html"]
    assert "sample “dock”" in (tmp_path / "out" / names[0]).read_text("utf-8")


def test_cards_are_printed_and_the_path_that_is_named_is_there(demo: Path) -> None:
    done = labkit("print", demo.name, "--cards", "--at", "192.0.2.7:8000", cwd=demo.parent)
    assert (done.returncode, done.stderr) == (0, "")
    (line,) = _files(done.stdout)
    page = demo.parent / line.split(":", 1)[1].split("(")[0].strip()
    assert page.read_text("utf-8").count("http://192.0.2.7:8000<") == 12
    assert "write '--cards' as well" in fails("print", demo, "--at", "192.0.2.7", cwd=demo.parent)
    assert "cards are of a class" in fails("print", demo, "--cards", "--seed", "x", cwd=demo.parent)
    assert "is not a class folder" in fails("print", "plan-the-trunk", "--cards", cwd=demo.parent)


def test_what_cannot_be_printed_gets_a_sentence(demo: Path, tmp_path: Path) -> None:
    assert "neither a class nor a lab" in fails("print", "nowhere", cwd=tmp_path)
    assert "'--seed' is for a sample" in fails("print", demo, "--seed", "x", cwd=tmp_path)
    (tmp_path / "lab.md").write_text("no header")
    assert "the header is missing" in fails("print", "lab.md", cwd=tmp_path)
    (tmp_path / "class.yaml").write_text("id: a\ntitle: A\nlabs: [b]\nmode: practice\n")
    assert "was not dealt yet" in fails("print", ".", cwd=tmp_path)
    assert sorted(file.name for file in tmp_path.iterdir()) == ["class.yaml", "lab.md"]


def test_without_chromium_the_pages_are_made_and_a_sentence_says_how_to_print(
    tmp_path: Path,
) -> None:
    code = "from labkit.cli import main; main()"
    done = subprocess.run(
        [sys.executable, "-c", code, "print", "plan-the-trunk", "--pdf"],
        cwd=tmp_path,
        env={**NOT_BY_UV, "PATH": str(tmp_path), "COLUMNS": "120", "PYTHONIOENCODING": "utf-8"},
        capture_output=True,
        text=True,
        encoding="utf-8",
    )
    assert done.returncode == 0, done
    assert "No Chromium was found" in done.stdout
    assert (tmp_path / "print" / "plan-the-trunk.html").exists()
