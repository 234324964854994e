"""What our documents point at is there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
ROOMS = ("labkit", "tests", "instructors", "labs")
DOCUMENTS = sorted(
    [*ROOT.glob("*.md"), *(file for room in ROOMS for file in (ROOT / room).rglob("README.md"))]
)
DOCUMENTS = [file for file in DOCUMENTS if "node_modules" not in file.parts]
LINK = re.compile(r"\]\((?!https?:|#)([^)#\s]+)")
PATH = re.compile(r"`((?:labkit|tests|labs|instructors)/[\w./-]+?)/?`")


def _lost(document: Path, text: str) -> list[str]:
    """The links and paths of a document that lead nowhere."""
    links = [link for link in LINK.findall(text) if not (document.parent / link).exists()]
    return links + [path for path in PATH.findall(text) if not (ROOT / path).exists()]


@pytest.mark.parametrize("file", DOCUMENTS, ids=lambda file: str(file.relative_to(ROOT)))
def test_links_and_paths_lead_somewhere(file: Path) -> None:
    assert _lost(file, file.read_text(encoding="utf-8")) == []


def test_a_lost_link_and_a_lost_path_are_found() -> None:
    text = "[a](labkit/none.md) [b](https://example.org) `labkit/lab` `labkit/no/such.py`"
    assert _lost(ROOT / "README.md", text) == ["labkit/none.md", "labkit/no/such.py"]
