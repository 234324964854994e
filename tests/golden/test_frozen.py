"""What labs draw, ask, key, print and mark stays as frozen: one draw whole, thirty by digest.

Where it changes on purpose: `python tests/golden/freeze.py [LAB ...]`, and the commit says why.
"""

from __future__ import annotations

import json

import pytest
from freeze import DIGESTS, WHOLE, digests, labs, whole


def test_every_lab_is_frozen() -> None:
    assert sorted(folder.name for folder in WHOLE.iterdir()) == labs()
    assert sorted(file.stem for file in DIGESTS.iterdir()) == labs()


@pytest.mark.parametrize("name", labs())
def test_one_draw_gives_what_it_gave(name: str) -> None:
    found = whole(name)
    frozen = {file.name: file.read_text(encoding="utf-8") for file in (WHOLE / name).iterdir()}
    assert found.keys() == frozen.keys()
    for part, text in found.items():
        # Line by line: a difference in a page of 700 kB is to be told, not printed whole.
        lines = zip(text.splitlines(), frozen[part].splitlines(), strict=False)
        for number, (now, then) in enumerate(lines, 1):
            assert now == then, f"{name}/{part}, line {number}"
        assert text == frozen[part], f"{name}/{part} is longer or shorter"


@pytest.mark.parametrize("name", labs())
def test_thirty_draws_give_what_they_gave(name: str) -> None:
    frozen = json.loads((DIGESTS / f"{name}.json").read_text(encoding="utf-8"))
    found = digests(name)
    other = {
        part: [n for n, (a, b) in enumerate(zip(found[part], frozen[part], strict=True)) if a != b]
        for part in frozen
    }
    assert found.keys() == frozen.keys()
    assert {part: draws for part, draws in other.items() if draws} == {}
