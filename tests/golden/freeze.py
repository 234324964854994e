"""Writes what `test_frozen.py` holds labkit against: `python tests/golden/freeze.py [LAB ...]`.

Only for a change on purpose: a lab's new version, a text, a rule. The commit says which it was.
"""

from __future__ import annotations

import json
import sys
from hashlib import sha256
from pathlib import Path

from artefacts import artefacts, light

from labkit.lab.definition import Lab
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab

LABS = Path(__file__).parents[2] / "labs"
WHOLE = Path(__file__).parent / "whole"
DIGESTS = Path(__file__).parent / "digests"
DRAWS = 30
ALL_PARTS = 5
"""Of so many draws every part, of the others the light ones: a draw of a bench costs seconds, and
what is made of a draw follows from the light parts by the same code in each."""


def labs() -> list[str]:
    """The ids of the shipped labs."""
    return sorted(file.parent.name for file in LABS.glob("*/lab.md"))


def lab(name: str) -> Lab:
    """A shipped lab."""
    return read_lab(LABS / name / "lab.md")


def whole(name: str) -> dict[str, str]:
    """Every part of the first draw, the assessed task too."""
    return dict(artefacts(draw(lab(name), "golden 0"), assessed=True))


def digests(name: str) -> dict[str, list[str]]:
    """By part, a digest of each draw."""
    found: dict[str, list[str]] = {}
    definition = lab(name)
    for number in range(DRAWS):
        scenario = draw(definition, f"golden {number}")
        parts = artefacts if number < ALL_PARTS else light
        for part, text in parts(scenario):
            found.setdefault(part, []).append(sha256(text.encode()).hexdigest()[:10])
    return found


def main(names: list[str]) -> None:
    """Freeze these labs anew, all of them where none is named."""
    for name in names or labs():
        folder = WHOLE / name
        folder.mkdir(parents=True, exist_ok=True)
        for part, text in whole(name).items():
            (folder / part).write_text(text, encoding="utf-8")
        DIGESTS.mkdir(exist_ok=True)
        data = json.dumps(digests(name), indent=1) + "\n"
        (DIGESTS / f"{name}.json").write_text(data, encoding="utf-8")
        print(name)


if __name__ == "__main__":
    main(sys.argv[1:])
