"""A chassis: what is planned against what is mounted."""

import pytest

from labkit.fieldbus.chassis import Chassis, Module, Pattern, Revision
from labkit.fieldbus.errors import PlanError

MODULES = {
    "controller": Module("controller", "MERE-1C", Revision(4, 12)),
    "ethernet": Module("ethernet module", "MERE-1E", Revision(3, 1)),
    "scanner": Module("scanner", "MERE-1S", Revision(2, 7)),
}
CHASSIS = Chassis(5, MODULES, {"controller": 0, "ethernet": 1, "scanner": 3})


@pytest.mark.parametrize(
    "text",
    [
        "edition 4, fix 12", "Edition 4 Fix 12", "ed. 4, fix 12", "4 fix 12", "4, fix 12", "4fix12",
        "4/12", "4 - 12", "4, 12", "4 12", " 4.012 ", "4.12", "004.12",
    ],
)  # fmt: skip
def test_a_revision_is_read_as_plates_and_people_write_it(text: str) -> None:
    assert Revision.from_text(text) == Revision(4, 12)


def test_a_revision_is_ordered_by_numbers_and_written_as_the_plates_have_it() -> None:
    assert Revision(4, 2) < Revision(4, 12)
    assert str(Revision(4, 12)) == "edition 4, fix 12"
    assert Revision.from_text(str(Revision(4, 12))) == Revision(4, 12)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "4",
        "412",
        "4.",
        "4.1.2",
        "a.b",
        "-1.2",
        "4.1234",
        "edition 4",
        "fix 12",
        "4//12",
        "4,12",
    ],
)
def test_what_does_not_hold_two_numbers_is_no_revision(text: str) -> None:
    with pytest.raises(PlanError, match="two numbers"):
        Revision.from_text(text)


@pytest.mark.parametrize(
    ("planned", "words", "pattern"),
    [
        ({"controller": 0, "ethernet": 1, "scanner": 3}, [], None),
        ({"controller": 1, "ethernet": 2, "scanner": 4}, ["ethernet is mounted there"], "ONE"),
        ({"controller": 0, "ethernet": 3, "scanner": 1}, ["scanner is mounted there"], "SWAP"),
        ({"controller": 0, "ethernet": 1, "scanner": 2}, ["nothing is mounted there"], None),
        ({"controller": 0, "ethernet": 1, "scanner": 5}, ["slots 0 to 4"], None),
        ({"controller": 0, "ethernet": 1}, ["scanner is not on the board yet"], None),
        ({"controller": 1, "ethernet": 2}, ["not on the board"], None),
    ],
)
def test_a_plan_is_compared_slot_by_slot(
    planned: dict[str, int], words: list[str], pattern: str | None
) -> None:
    sentences = " ".join(fault.sentence for fault in CHASSIS.faults(planned))
    assert bool(sentences) == bool(words)
    for word in words:
        assert word in sentences
    expected = {"ONE": Pattern.FROM_ONE, "SWAP": Pattern.SWAPPED, None: None}[pattern]
    assert CHASSIS.pattern(planned) is expected


def test_a_chassis_that_cannot_be_is_refused() -> None:
    with pytest.raises(PlanError, match="two modules are mounted in slot 1"):
        Chassis(5, MODULES, {"controller": 0, "ethernet": 1, "scanner": 1})
    with pytest.raises(PlanError, match="outside 0 to 2"):
        Chassis(3, MODULES, {"controller": 0, "ethernet": 1, "scanner": 3})
    with pytest.raises(PlanError, match="nameplate"):
        Chassis(3, MODULES, {"controller": 0})
    with pytest.raises(PlanError, match="slots"):
        Chassis(0, {}, {})
    with pytest.raises(PlanError, match="type code"):
        Module("scanner", " ", Revision(1, 1))
