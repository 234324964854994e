"""The file of a training rig: what it may leave out, and sentences with lines where it is wrong."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from rigs_by_chance import devicenet_text, modbus_text

from labkit.bench.rig.by_hand import WIRED
from labkit.bench.rig.parts import Between
from labkit.doors.installed import NotOfferedError
from labkit.lab.reading.rig_file import ON_THE_RIG, read_rig, rig_of
from labkit.language.problems import DefinitionError

ROOT = Path(__file__).parents[2]
WHOLE = """by hand:
  faults: [conductor open, terminator missing, rate]
  places: [scanner, tap 2, left end]
instruments: [ohms, scanner]
unplug: no
tolerances: {terminators: 2 %, loads: 50 % to 90 %}
meter: {ohms: 0.5 %, leads: 0.2 ohm, volts: 1 %}
"""


def told(text: str) -> str:
    with pytest.raises(DefinitionError) as caught:
        rig_of(text, "rig.md")
    return str(caught.value)


def test_a_short_file_is_enough() -> None:
    rig = rig_of(devicenet_text(1), "rig.md")
    assert rig.instruments == ("ohms", "volts", "scanner", "lamps")
    assert "left end" in rig.places
    assert rig.parts == rig.own.parts
    assert "PUB00027R1" in rig.parts.terminators.source
    assert rig.rules == ""


def test_everything_can_be_said() -> None:
    text = devicenet_text(1, WHOLE) + "\nGloves are in the **left** drawer.\n"
    rig = rig_of(text, "rig.md")
    assert rig.parts.terminators == Between(0.98, 1.02, ON_THE_RIG)
    assert (rig.parts.loads.low, rig.parts.loads.high) == pytest.approx((0.5, 0.9))
    assert (rig.meter.ohm_share, rig.meter.ohm_more) == pytest.approx((0.005, 0.2))
    assert {work.kind for work in rig.works} == {"conductor open", "terminator missing", "rate"}
    assert "tap 2, left" in rig.places
    assert not any(probe.unplugged or probe.unit == "V" for probe in rig.probes)
    assert rig.rules == "Gloves are in the **left** drawer."


def test_a_rig_of_modbus() -> None:
    rig = rig_of(modbus_text(1), "rig.md")
    assert "bias missing" in {work.kind for work in rig.works}
    assert "lamps" not in rig.words


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ("by hand: {faults: [short of plus]}\n", "nothing that a hand may put into this rig"),
        ("by hand: {faults: [terminator mising]}\n", "Did you mean 'terminator missing'?"),
        ("by hand: {places: [supply]}\n", "belongs to a supply: nothing is put in there"),
        ("by hand: {places: ['power tap of supply, left']}\n", "belongs to a supply"),
        ("by hand: {places: [sccanner]}\n", "Did you mean 'scanner'?"),
        ("by hand: {places: []}\n", "by hand"),
        ("instruments: [ohms, scope]\n", "'scope' is no instrument"),
        ("tolerances: {terminators: wide}\n", "'wide' is no share"),
        ("tolerances: {terminators: 120 %}\n", "reach down to nothing"),
        ("tolerances: {loads: 90 % to 50 %}\n", "does not go upwards"),
        ("tolerances: {terminator: 1 %}\n", "Did you mean 'terminators'?"),
        ("meter: {leads: 60 Ω}\n", "leads of 60 Ω measure nothing"),
        ("meter: {leads: 1 V}\n", "resistance"),
        ("unplug: perhaps\n", "unplug"),
    ],
)
def test_what_is_wrong_is_told_with_its_line(more: str, says: str) -> None:
    text = devicenet_text(1, more)
    line = text.splitlines().index(more.strip()) + 1
    found = told(text)
    assert f"rig.md, line {line}" in found
    assert says in found


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("scanner: scanner", "scanner: skanner", "Did you mean 'scanner'?"),
        ("family: devicenet", "family: devicenett", "Did you mean 'devicenet'?"),
        ("title: Board 1\n", "", "title"),
        ("cable: thi", "cable: thx", "thx"),
    ],
)
def test_a_network_that_is_wrong_is_told(old: str, new: str, says: str) -> None:
    text = devicenet_text(1)
    assert old in text
    found = told(text.replace(old, new))
    assert "rig.md, line " in found
    assert says in found


def test_a_family_without_a_bench_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    def none(name: str) -> None:
        raise NotOfferedError("a virtual bench", name)

    monkeypatch.setattr("labkit.doors.installed.bench_reading_for", none)
    assert "rig.md, line " in told(devicenet_text(1))
    assert "has no virtual bench" in told(devicenet_text(1))


def test_a_rig_that_does_not_work_as_described_is_told() -> None:
    text = modbus_text(1)
    address = text.index("address: '[none, ") + len("address: '[none, ")
    first, second, *_ = text[address:].split("]")[0].split(", ")
    found = told(text.replace(f"none, {first}, {second}", f"none, {first}, {first}"))
    assert "gets no answer from" in found or "address" in found


def test_a_rig_longer_than_its_family_allows_is_told() -> None:
    found = told(devicenet_text(1).replace("length: ", "length: 90"))
    assert "longer than its family allows" in found


def test_another_master_than_the_networks_is_told() -> None:
    found = told(modbus_text(1).replace("scanner: boss", "scanner: d0"))
    assert "in the network 'boss' is the master" in found


def test_the_guides_rig_can_be_read_and_dealt() -> None:
    guide = (ROOT / "instructors" / "fault-cards.md").read_text("utf-8")
    rig = rig_of(guide.split("```rig\n")[1].split("```")[0], "rig.md")
    assert len(rig.deck.cards) > 20
    known = {*WIRED, *rig.own.kinds}
    table = guide.split("| kind | what a hand does |")[1].split("\n\n")[0]
    assert {*re.findall(r"`([a-z ]+)`", table)} == known


def test_exercises_have_no_place_in_it() -> None:
    text = devicenet_text(1) + "\n```exercise one\nkind: choice\n```\n"
    assert "a rig has no exercises" in told(text)


def test_what_is_no_file_or_no_text_is_told(tmp_path: Path) -> None:
    with pytest.raises(DefinitionError, match="No such file"):
        read_rig(tmp_path / "none.md")
    (tmp_path / "rig.md").write_bytes(b"---\ntitle: \xff\n---\n")
    with pytest.raises(DefinitionError, match="not text"):
        read_rig(tmp_path / "rig.md")
    assert "id, version" not in told("title: x")
