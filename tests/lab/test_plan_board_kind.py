"""`plan_board`: rule by rule, many boards right, every mistake told with where and why."""

from copy import deepcopy
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from labkit.lab.draw import draw
from labkit.lab.kinds import check_for
from labkit.lab.reading import read_lab_text
from labkit.lab.verdict import Verdict
from labkit.language.problems import DefinitionError

CHECK = check_for("plan_board")
LAB = """\
---
id: board
version: 1.0
title: A board
draw:
  at: {one of: [0]}
---

```exercise board
kind: plan_board
title: The board
question: Plan it.
slots: "4"
modules:
  - {id: ctl, what: Controller, type: MERE-110C, revision: "edition 4, fix 12", slot: at}
  - {id: eth, what: Ethernet module, type: MERE-110E, revision: "edition 3, fix 1", slot: at + 1}
  - {id: scn, what: Scanner, type: MERE-110S, revision: 2.007, slot: "3"}
ethernet:
  subnet: 10.20.30.64/26
  taken:
    - {address: 10.20.30.65, by: the panel}
  temporary: 10.20.30.126
scanner:
  rate: "250"
  taken:
    - {address: "5", by: the scale}
  free: "[0, 63]"
marks: 4
working: As mounted.
```
"""
# Written by hand, in other words than the check's own right answer.
RIGHT: dict[str, Any] = {
    "cards": {
        "ctl": {
            "slot": "0",
            "name": "Line_2",
            "revision": "4 fix 12",
            "note": "runs filling line 2",
        },
        "eth": {"slot": "1", "name": "Net", "revision": "3/1", "note": "panel and office link"},
        "scn": {
            "slot": "03",
            "name": "_Scan",
            "revision": "Edition 2, fix 7",
            "note": "all nodes of the line",
        },
    },
    "ethernet": {"address": "10.20.30.100", "prefix": "/26"},
    "scanner": {"node": "62", "rate": "250"},
}


def prepared(text: str = LAB) -> tuple[dict[str, Any], dict[str, Any]]:
    lab = read_lab_text(text)
    found = draw(lab, "board").prepare(lab.exercises[0])
    return found.ask, found.key


ASK, KEY = prepared()


def board(*path: str, value: Any) -> dict[str, Any]:
    changed = deepcopy(RIGHT)
    inner = changed
    for step in path[:-1]:
        inner = inner[step]
    inner[path[-1]] = value
    return changed


def test_a_board_planned_by_hand_and_the_boards_own_are_right() -> None:
    assert CHECK.check(ASK, KEY, RIGHT).right
    assert CHECK.check(ASK, KEY, CHECK.right_answer(ASK, KEY)).right
    assert "all 10 rules" in CHECK.check(ASK, KEY, RIGHT).message
    assert "Line_2" in CHECK.shown(ASK, RIGHT)


@pytest.mark.parametrize(
    ("path", "value", "slip", "rules_lost", "words"),
    [
        ("cards ctl slot", "3", "wrong-slot", 1, "Scanner is mounted there"),
        ("cards ctl slot", "2", "wrong-slot", 1, "nothing is mounted there"),
        ("cards ctl slot", "", "card-missing", 1, "Controller is not on the board"),
        ("cards ctl slot", "zero", "slot-not-a-number", 1, "'zero'"),
        ("cards ctl revision", "4 fix 13", "wrong-revision", 1, "second number"),
        ("cards ctl revision", "5 fix 12", "wrong-revision", 1, "first number"),
        ("cards ctl revision", "4", "revision-unreadable", 1, "two numbers"),
        ("cards ctl name", "2_line", "name-begins-with-digit", 1, "Controller: '2_line' begins"),
        ("cards ctl name", "line 2", "name-with-space", 1, "underscore instead"),
        ("cards ctl name", "line-2", "name-with-hyphen", 1, "minus sign"),
        ("cards ctl name", "NET", "name-twice", 1, "do not differ"),
        ("cards ctl name", "", "name-missing", 2, "no name yet"),
        ("cards ctl name", "task", "name-is-keyword", 1, "keyword"),
        ("cards ctl note", "controller", "description-of-no-use", 1, "next person"),
        ("cards ctl note", "Line 2", "description-of-no-use", 1, "next person"),
        ("cards eth note", "Ethernet module!", "description-of-no-use", 1, "next person"),
        ("cards ctl note", "", "description-missing", 1, "no description"),
        ("ethernet address", "10.20.30.64", "network-address", 1, "names the whole subnet"),
        ("ethernet address", "10.20.30.127", "broadcast-address", 1, "every host listens"),
        ("ethernet address", "10.20.30.128", "address-outside-subnet", 1, "outside"),
        ("ethernet address", "10.20.30.65", "address-taken", 1, "belongs to the panel"),
        ("ethernet address", "10.20.30.126", "temporary-address", 1, "temporary"),
        ("ethernet address", "10.20.30", "address-unreadable", 2, "four numbers"),
        ("ethernet prefix", "24", "wrong-prefix", 1, "not the plan's"),
        ("ethernet prefix", "", "prefix-unreadable", 1, "not filled in"),
        ("scanner node", "5", "node-taken", 1, "the scale"),
        ("scanner node", "63", "node-to-keep-free", 1, "kept free"),
        ("scanner node", "64", "node-out-of-range", 1, "0 to 63"),
        ("scanner rate", "125", "wrong-rate", 1, "not the network's"),
    ],
)
def test_each_rule_is_told_with_where_and_why_and_costs_its_share(
    path: str, value: str, slip: str, rules_lost: int, words: str
) -> None:
    verdict = CHECK.check(ASK, KEY, board(*path.split(), value=value))
    assert verdict.slip == slip
    assert verdict.credit == pytest.approx(1 - rules_lost / 10)
    lines = verdict.message.split("\n")
    assert words in " ".join(line for line in lines if line.startswith("✗"))
    assert sum(line.startswith("✓") for line in lines) == 10 - rules_lost


def test_slots_from_one_and_swapped_modules_are_one_mistake_each() -> None:
    shifted = deepcopy(RIGHT)
    for card, slot in {"ctl": "1", "eth": "2", "scn": "4"}.items():
        shifted["cards"][card]["slot"] = slot
    verdict = CHECK.check(ASK, KEY, shifted)
    assert (verdict.slip, verdict.credit) == ("slots-from-1", 0.9)
    swapped = board("cards", "eth", "slot", value="3")
    swapped["cards"]["scn"]["slot"] = "1"
    verdict = CHECK.check(ASK, KEY, swapped)
    assert verdict.slip == "modules-swapped"
    assert "Ethernet module" in verdict.message
    assert "Scanner" in verdict.message


def test_every_slip_answer_shows_its_slip() -> None:
    slips = CHECK.slip_answers(ASK, KEY)
    assert {"slots-from-1", "modules-swapped", "temporary-address", "name-twice"} <= set(slips)
    for slip, answer in slips.items():
        assert CHECK.check(ASK, KEY, answer).slip == slip


scalars = (
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=6)
    | st.just("\ud800")
) | st.integers(10**5000, 10**5001)
words = st.sampled_from(
    ["cards", "ctl", "eth", "slot", "name", "ethernet", "address", "prefix", "scanner", "node"]
)
json_values = st.recursive(
    scalars,
    lambda inner: st.lists(inner, max_size=2) | st.dictionaries(words, inner, max_size=4),
    max_leaves=12,
)
fields: list[tuple[str, ...]] = [("cards", "ctl", f) for f in ("slot", "name", "revision", "note")]
fields += [("ethernet", "address"), ("ethernet", "prefix"), ("scanner", "node"), ("cards", "ctl")]


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.one_of(json_values, st.tuples(st.sampled_from(fields), json_values)))
def test_any_json_gets_a_verdict(given_answer: Any) -> None:
    answer = given_answer
    if isinstance(given_answer, tuple):
        path, value = given_answer
        answer = board(*path, value=value)
    verdict = CHECK.check(ASK, KEY, answer)
    assert isinstance(verdict, Verdict)
    assert 0 <= verdict.credit <= 1
    assert verdict.message
    assert verdict.readable == (CHECK.unreadable(ASK, answer) == "")
    assert isinstance(CHECK.shown(ASK, answer), str)


def test_the_task_holds_the_nameplates_in_a_drawn_order_and_nothing_of_the_plan() -> None:
    lab = read_lab_text(LAB)
    orders = set()
    for number in range(20):
        found = draw(lab, f"order {number}").prepare(lab.exercises[0])
        orders.add(tuple(each["id"] for each in found.ask["modules"]))
        assert "10.20.30" not in str(found.ask)
    assert len(orders) > 3
    assert set(ASK) == {"slots", "modules", "ethernet", "scanner", "rates"}


@pytest.mark.parametrize(
    ("old", "new", "field", "words"),
    [
        ("id: eth,", "id: ctl,", "id", "there twice"),
        ('"edition 4, fix 12"', "four", "modules", "two numbers"),
        ('slot: "3"', 'slot: "4"', "slot", "from 0 to 3"),
        ('slot: "3"', 'slot: "1"', "modules", "mounted in slot 1"),
        ('slots: "4"', 'slots: "40"', "slots", "from 1 to 17"),
        ("subnet: 10.20.30.64/26", "subnet: 10.20.30.65/26", "subnet", "within the network"),
        ("subnet: 10.20.30.64/26", "subnet: 10.20.30.64/31", "subnet", "no room"),
        ("subnet: 10.20.30.64/26", "subnet: 10.20.30.64/{{ n }}", "subnet", "'n'"),
        ("temporary: 10.20.30.126", "temporary: 10.20", "temporary", "four numbers"),
        ('rate: "250"', 'rate: "200"', "rate", "125, 250 or 500"),
        ('address: "5"', 'address: "64"', "address", "from 0 to 63"),
        ('free: "[0, 63]"', 'free: "[0, 63.5]"', "free", "from 0 to 63"),
        ("what: Scanner, ", "", "what", "is missing"),
        ("temporary:", "temporal:", "temporal", "temporary"),
    ],
)
def test_an_authors_mistake_is_told_with_field_and_mend(
    old: str, new: str, field: str, words: str
) -> None:
    assert LAB.count(old) == 1
    with pytest.raises(DefinitionError) as caught:
        prepared(LAB.replace(old, new))
    assert field in str(caught.value)
    assert words in str(caught.value)
