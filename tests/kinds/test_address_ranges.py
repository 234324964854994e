"""Addresses of a range of the lab's own; without one, all is as the lab's family says."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.doors.installed import check_for, page_for
from labkit.kinds.common import paper
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text
from labkit.language.problems import DefinitionError
from labkit.proofing import proof

CHECK = check_for("address_plan")
DEVICES = ["infeed meter", "mixer meter", "oven meter"]
HEAD = """\
---
id: ranges
version: 1.0
title: Ranges
draw:
  first: {from: 1, to: 40}
  taken: {from: 41, to: 90}
---

```exercise plan
kind: address_plan
title: Addresses
question: Give each meter an address.
devices: '["infeed meter", "mixer meter", "oven meter"]'
marks: 3
working: So.
"""


def made(fields: str, seed: str = "one") -> tuple[dict[str, Any], dict[str, Any]]:
    """Ask and key of an exercise with these fields."""
    lab = read_lab_text(f"{HEAD}{fields}```\n")
    found = draw(lab, seed).prepare(lab.exercises[0])
    return found.ask, found.key


SERIAL = """\
addresses: {from: 1, to: 247}
taken:
  - {address: taken, by: the panel}
  - {address: '[100, 101]', by: the drives}
free: 247
"""


def plan(*addresses: str) -> dict[str, str]:
    """An answer."""
    return dict(zip(DEVICES, addresses, strict=True))


@pytest.mark.parametrize(
    ("addresses", "credit", "slip", "words"),
    [
        (("1", "2", "246"), 1, "", "Right"),
        (("200", "node 201", "#202"), 1, "", "Right"),
        (("0", "2", "3"), 2 / 3, "out-of-range", "no whole number from 1 to 247"),
        (("248", "2", "3"), 2 / 3, "out-of-range", "no whole number from 1 to 247"),
        (("100", "2", "3"), 2 / 3, "taken-address", "It belongs to the drives."),
        (("101", "2", "3"), 2 / 3, "taken-address", "It belongs to the drives."),
        (("101", "101", "3"), 1 / 3, "duplicate-address", "no two nodes may"),
        (("247", "2", "3"), 2 / 3, "address-to-keep-free", "is to be kept free"),
    ],
)
def test_a_range_of_its_own(
    addresses: tuple[str, ...], credit: float, slip: str, words: str
) -> None:
    ask, key = made(SERIAL)
    assert ask == {"devices": DEVICES, "limit": 247, "lowest": 1}
    verdict = CHECK.check(ask, key, plan(*addresses))
    assert verdict.credit == pytest.approx(credit)
    assert verdict.slip == slip
    assert words in verdict.message


def test_the_family_says_the_range_of_a_lab_that_gives_none() -> None:
    ask, _ = made("")
    assert ask == {"devices": DEVICES, "limit": 63}
    assert page_for("address_plan")(ask, None).view() == {"lowest": 0}
    assert "Addresses" not in paper.answer_place(CHECK, ask)


def test_a_range_may_be_drawn_and_is_shown_on_page_and_paper() -> None:
    seen = set()
    for number in range(6):
        ask, key = made("addresses: {from: first, to: first + 90}\n", f"drawn {number}")
        seen.add(ask["lowest"])
        assert ask["limit"] == ask["lowest"] + 90
        assert page_for("address_plan")(ask, None).view() == {"lowest": ask["lowest"]}
        note = f"Addresses {ask['lowest']} to {ask['limit']}."
        assert note in paper.answer_place(CHECK, ask)
        right = CHECK.right_answer(ask, key)
        assert right == plan(*(str(ask["lowest"] + at) for at in range(3)))
        for slip, answer in CHECK.slip_answers(ask, key).items():
            assert CHECK.check(ask, key, answer).slip == slip
    assert len(seen) > 3


def test_proof_solves_it_and_meets_every_slip() -> None:
    found = {item.id for item in proof(read_lab_text(f"{HEAD}{SERIAL}```\n"), 20).findings}
    assert "no-difficulty" in found
    assert not {name for name in found if name.startswith(("slip", "no-s", "no-v", "kind"))}


SPAN = st.integers(0, 65_535)


@settings(deadline=None, max_examples=60, derandomize=True)
@given(one=SPAN, other=SPAN, typed=st.lists(st.integers(-2, 65_540), min_size=3, max_size=3))
def test_any_range_is_kept(one: int, other: int, typed: list[int]) -> None:
    lowest, limit = min(one, other), max(one, other)
    ask = {"devices": DEVICES, "limit": limit, "lowest": lowest}
    key: dict[str, Any] = {"taken": {}, "free": []}
    verdict = CHECK.check(ask, key, plan(*map(str, typed)))
    sound = [lowest <= at <= limit and typed.count(at) == 1 for at in typed]
    assert verdict.credit == pytest.approx(sum(sound) / 3)
    if limit - lowest >= 2:
        assert CHECK.check(ask, key, CHECK.right_answer(ask, key)).right


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ("addresses: {from: 9, to: 1}\n", "1 is below 9. Exchange 'from' and 'to'."),
        ("addresses: {from: -1, to: 9}\n", "from 0 to 65535"),
        ("addresses: {from: 1, to: 70000}\n", "from 0 to 65535"),
        ("addresses: {from: 1, to: 2}\n", "3 devices cannot share 2 free addresses"),
        ("addresses: {from: 1}\n", "Add a line 'to: …'"),
        ("addresses: 1 to 9\n", "must be a group of fields"),
        ("addresses: {from: 1, to: 9}\nfree: 10\n", "from 1 to 9"),
        ("addresses: {from: 1, to: 9}\ntaken: [{address: 0, by: the host}]\n", "from 1 to 9"),
    ],
)
def test_an_authors_mistake_is_told(fields: str, words: str) -> None:
    with pytest.raises(DefinitionError) as told:
        made(fields)
    assert words in f"{told.value.problems[0].message} {told.value.problems[0].mend}"
