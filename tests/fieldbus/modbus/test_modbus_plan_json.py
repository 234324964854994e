"""A planned line as JSON: there and back, and mistakes with their places."""

import json
import re
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from modbus_lines import sound_line

from labkit.fieldbus import PlanError
from labkit.fieldbus.modbus import Device, Network, Tap
from labkit.fieldbus.serial import CharacterFormat

FIELDS = (
    "length taps terminators polarizations earths bit_rate form cable position derivations devices "
    "name address unit_loads master at ohm section_mm2 other"
)
KEYS = st.sampled_from(FIELDS.split())
JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEYS, inner, max_size=4),
    max_leaves=6,
)


def test_there_and_back() -> None:
    line = sound_line()
    data = json.loads(json.dumps(line.to_json()))
    assert Network.from_json(data) == line
    assert data["polarizations"] == [{"at": "controller", "pull_up_ohm": 450, "pull_down_ohm": 450}]
    assert "form" not in data


def test_another_format_is_a_text() -> None:
    odd = CharacterFormat.from_text("8O1")
    line = Network(10, (Tap.to(0, Device("meter", 1, form=odd)),), form=odd)
    data = line.to_json()
    assert data["form"] == "8O1"
    assert data["taps"][0]["derivations"][0]["devices"][0]["form"] == "8O1"
    assert Network.from_json(data) == line


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        ([], "The plan must be an object with fields, not []."),
        ({}, "length is missing; give it."),
        ({"length": 5, "tabs": []}, "tabs is not a field here; there are: length, taps,"),
        ({"length": 5, "taps": {}}, "Taps must be a list, not {}."),
        (
            {"length": 5, "taps": [{"position": 1, "derivations": [{"lenght": 2}]}]},
            "taps[0].derivations[0].lenght is not a field here; there are: length, devices.",
        ),
        (
            {"length": 5, "taps": [{"position": 1, "derivations": [{"length": -2}]}]},
            "taps[0].derivations[0]: The length of a derivation is -2 m; it must be at least 0",
        ),
        ({"length": 5, "form": "9E1"}, "form: '9E1' is no format of characters"),
        ({"length": 5, "cable": {"section_mm2": 0}}, "cable: The section of a conductor is 0"),
        ({"length": 5, "taps": [3]}, "Taps[0] must be an object with fields, not 3."),
        ({"length": 5, "terminators": [{"at": 6}]}, "The terminator at 6 m lies beyond the trunk"),
        ({"length": True}, "The length of the trunk is True, which is no number"),
    ],
)
def test_a_mistake_is_told_with_its_place(data: Any, sentence: str) -> None:
    with pytest.raises(PlanError, match=rf"^{re.escape(sentence)}"):
        Network.from_json(data)


@given(st.dictionaries(KEYS, JSON, max_size=5), st.booleans())
def test_any_json_gives_a_plan_or_a_sentence(data: dict[str, Any], with_length: bool) -> None:
    if with_length:
        data["length"] = 100
    try:
        line = Network.from_json(data)
    except PlanError:
        return
    assert Network.from_json(line.to_json()) == line
