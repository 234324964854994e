"""Data sheets: values, limits, node-IDs, and every mistake with its line and mend."""

from contextlib import suppress

import pytest
from canopen_devices import NODE, SHEET
from hypothesis import given
from hypothesis import strategies as st

from labkit.fieldbus import PlanError
from labkit.fieldbus.canopen import (
    Access,
    DataSheetError,
    DataType,
    Entry,
    Multiplexor,
    ObjectDictionary,
    read_data_sheet,
)


def said(text: str) -> list[str]:
    """What is wrong with a sheet."""
    with pytest.raises(DataSheetError) as found:
        read_data_sheet(text)
    return [str(problem) for problem in found.value.problems]


def changed(old: str, new: str) -> tuple[str, int]:
    """The sheet with one place changed, and the line of that place."""
    assert SHEET.count(old) >= 1
    at = SHEET.index(old)
    return SHEET[:at] + new + SHEET[at + len(old) :], SHEET[:at].count("\n") + 1


def test_the_sheet_of_the_invented_device() -> None:
    sheet = read_data_sheet(SHEET)
    assert (sheet.device.product, sheet.device.bit_rates_kbps) == (
        "Demo turntable",
        (500, 250, 125),
    )
    speed = sheet.dictionary.get(Multiplexor(0x2000))
    assert speed == Entry(
        Multiplexor(0x2000),
        "speed",
        DataType.INTEGER16,
        Access.READ_WRITE,
        0,
        low=-3000,
        high=3000,
        mappable=True,
    )
    pdo = sheet.dictionary.by_place[Multiplexor(0x1800, 1)]
    assert pdo.value_for(NODE) == 0x40000185
    assert pdo.start_bytes(NODE) == bytes.fromhex("85010040")
    assert sheet.dictionary.name(pdo.at) == "PDO communication, identifier (0x1800 subindex 1)"
    assert sheet.dictionary.name(Multiplexor(0x7000)) == "0x7000 subindex 0"


def test_windows_line_ends_and_a_byte_order_mark_are_taken() -> None:
    assert read_data_sheet("\ufeff" + SHEET.replace("\n", "\r\n")) == read_data_sheet(SHEET)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("DataType=0x0003", "DataType=0x0099", "0x0099 is no data type of a value; write one"),
        ("DataType=0x0003\n", "", "[2000] has no DataType; give one, such as"),
        ("AccessType=wo", "AccessType=w", "'w' is no access; write one of ro, wo, rw, rwr"),
        ("HighLimit=3000", "HighLimit=40000", "40000 is outside INTEGER16, -32768 to 32767"),
        ("HighLimit=3000", "HighLimit=three", "'three' is no whole number; write 31 or 0x1F"),
        ("HighLimit=3000", "HighLimit=010", "begins with 0, which CiA 306 reads as octal"),
        (
            "HighLimit=3000",
            "HighLimit=-9",
            "of [2000] is 0, above its HighLimit of -9; correct",
        ),
        ("LowLimit=-3000", "LowLimit=5", "is 0, below its LowLimit of 5; correct one of them"),
        ("SubNumber=3", "SubNumber=4", "is 4, and 3 parts are described; correct the number"),
        ("1=0x1008", "1=0x1009", "names 0x1009, which is not described; add [1009]"),
        ("SupportedObjects=9", "SupportedObjects=8", "is 8, and 9 are named; correct the number"),
        ("PDOMapping=1", "PDOMapping=yes", "'yes' is neither 0 nor 1"),
        ("ObjectType=0x9", "ObjectType=0x6", "is 0x6; write 0x7 for a variable, 0x8 for an array"),
        ("AccessType=wo", "AccessType wo", "is neither [section] nor key=value"),
        ("AccessType=wo", "AccessType=wo\nAccessType=rw", "is there already in [2001], in line"),
        ("[2001]", "[2000]", "section [2000] is there already, from line"),
        ("SubNumber=3", "SubNumber=3\nCompactSubObj=3", "is not read; write its parts out"),
    ],
)
def test_each_mistake_is_told_with_its_mend(old: str, new: str, words: str) -> None:
    text, _ = changed(old, new)
    assert any(words in each for each in said(text)), said(text)


def test_a_mistake_is_told_at_its_line() -> None:
    text, line = changed("LowLimit=-3000", "LowLimit=-40000")
    assert said(text) == [
        f"Line {line}: LowLimit of [2000]: -40000 is outside INTEGER16, -32768 to 32767; "
        "correct value or type."
    ]


def test_limits_that_exclude_each_other() -> None:
    text, _ = changed("LowLimit=-3000", "LowLimit=3001")
    assert any("limits of speed are 3001 to 3000; exchange them" in each for each in said(text))


def test_all_mistakes_are_told_at_once_in_order_of_lines() -> None:
    text = SHEET.replace("AccessType=wo", "AccessType=x").replace("SubNumber=3", "SubNumber=9")
    lines = [int(each.split(":")[0].removeprefix("Line ")) for each in said(text)]
    assert len(lines) == 2
    assert lines == sorted(lines)


def test_a_mandatory_object_that_no_list_names() -> None:
    named = "SupportedObjects=3\n1=0x1000\n2=0x1001\n3=0x1018"
    text = SHEET.replace(named, "SupportedObjects=0")
    found = said(text)
    assert any("lacks 0x1018, identity, which every device has; add it" in each for each in found)
    assert any("object 1000 is in no list; add it to [MandatoryObjects]" in each for each in found)


def test_parts_without_a_whole() -> None:
    assert any("belongs to no object; add [3000]" in each for each in said(SHEET + "\n[3000sub1]"))
    assert any(
        "is a part of [2001], which is a variable" in each for each in said(SHEET + "\n[2001sub1]")
    )


def test_negative_numbers_may_be_written_as_their_bits() -> None:
    text, _ = changed("LowLimit=-3000", "LowLimit=0xF448")
    speed = read_data_sheet(text).dictionary.by_place[Multiplexor(0x2000)]
    assert speed.low == -3000


@given(st.text(max_size=200))
def test_any_text_is_refused_with_lines(text: str) -> None:
    if not text.strip():
        return
    with pytest.raises(DataSheetError) as found:
        read_data_sheet(text)
    lines = text.count("\n") + 1
    assert all(1 <= problem.line <= lines for problem in found.value.problems)


@given(st.integers(0, len(SHEET) - 1), st.text(max_size=3))
def test_a_sheet_with_a_slip_of_the_pen_never_ends_in_a_traceback(at: int, typed: str) -> None:
    with suppress(DataSheetError):
        read_data_sheet(SHEET[:at] + typed + SHEET[at + 1 :])


def test_a_dictionary_holds_no_entry_twice() -> None:
    entry = Entry(Multiplexor(0x2000), "speed", DataType.INTEGER16)
    with pytest.raises(PlanError, match="Two entries stand at 0x2000 subindex 0"):
        ObjectDictionary((entry, entry))
    with pytest.raises(PlanError, match="outside -32768 to 32767"):
        Entry(Multiplexor(0x2000), "speed", DataType.INTEGER16, default=1 << 20)
