"""A planned network: what it refuses, what it knows of itself, and its JSON form."""

import json
import math
from collections.abc import Callable
from typing import Any

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from planned_networks import networks

from labkit.fieldbus.devicenet.cable import CABLES, MANUAL, DataSheet
from labkit.fieldbus.devicenet.network import (
    Device,
    Drop,
    Network,
    Segment,
    Supply,
    Tap,
    Terminator,
)
from labkit.fieldbus.devicenet.plan_json import schema
from labkit.fieldbus.errors import PlanError

TRUNK = (Segment("thick", 100),)
VALIDATOR = jsonschema.Draft202012Validator(schema())
NODE = Drop(2, (Device("sensor", 0.1, 5),))


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Segment("copper", 5), "types are thick, thin, mid, flat"),
        (lambda: Segment("thick", 0), "more than 0 m"),
        (lambda: Segment("thick", -3), "more than 0 m"),
        (lambda: Segment("thick", math.nan), "finite"),
        (lambda: Segment("thick", math.inf), "finite"),
        (lambda: Segment("thick", 10**400), "finite"),
        (lambda: Segment("thick", True), "no number"),
        (lambda: Segment("thick", "12"), "no number"),  # type: ignore[arg-type]
        (lambda: Device("", 1), "name"),
        (lambda: Device(" a", 1), "blanks"),
        (lambda: Device("a\nb", 1), "printable"),
        (lambda: Device("a" * 61, 1), "at most 60"),
        (lambda: Device(5, 1), "as text"),  # type: ignore[arg-type]
        (lambda: Device("a", -0.1), "at least 0 A"),
        (lambda: Device("a", 0.1, 64), "outside 0 to 63"),
        (lambda: Device("a", 0.1, -1), "outside 0 to 63"),
        (lambda: Device("a", 0.1, True), "whole number"),
        (lambda: Device("a", 0.1, 3.0), "whole number"),  # type: ignore[arg-type]
        (lambda: Device("a", 0.1, constant_power=2), "one of the two"),
        (lambda: Device("a", constant_power=-2), "at least 0 W"),
        (lambda: Drop(-1), "at least 0 m"),
        (lambda: Drop(1, ("sensor",)), "only Device"),  # type: ignore[arg-type]
        (lambda: Drop(1, "sensor"), "list of Device"),  # type: ignore[arg-type]
        (lambda: Drop(1, (), (NODE, 3)), "only Drop"),  # type: ignore[arg-type]
        (lambda: Drop(1, cable="rope"), "types are"),
        (lambda: Tap(-1, NODE), "at least 0 m"),
        (lambda: Tap(1, 2), "needs a Drop"),  # type: ignore[arg-type]
        (lambda: Supply(3, voltage=0), "more than 0 V"),
        (lambda: Supply(3, rating=0), "more than 0 A"),
        (lambda: Supply(3, fuse_left=0, fuse_right=0), "feeds nothing"),
        (lambda: Supply(3, diode=1), "true or false"),  # type: ignore[arg-type]
        (lambda: Terminator(3, 0), "more than 0 ohm"),
        (lambda: Network(100, TRUNK), "125, 250 or 500"),
        (lambda: Network(125.0, TRUNK), "125, 250 or 500"),  # type: ignore[arg-type]
        (lambda: Network(125, ()), "no segment"),
        (lambda: Network(125, TRUNK, (Tap(100.5, NODE),)), "beyond the trunk"),
        (lambda: Network(125, TRUNK, (Tap(5, NODE), Tap(5, Drop(1)))), "Two taps stand at 5 m"),
        (lambda: Network(125, TRUNK, (Tap(5, NODE), Tap(6, NODE))), "called 'sensor'"),
        (
            lambda: Network(125, TRUNK, (Tap(5, NODE, "x"), Tap(6, Drop(1), "x"))),
            "Two taps are called 'x'",
        ),
        (lambda: Network(125, TRUNK, (), (Supply(101),)), "beyond the trunk"),
        (lambda: Network(125, TRUNK, (Tap(5, NODE),), (), (5,)), "stands on tap 'tap 1'"),
        (lambda: Network(125, TRUNK, (), (Supply(5),), (5,)), "stands on a supply"),
        (lambda: Network(125, TRUNK, (), (), (100,)), "stands on the trunk's end"),
        (lambda: Network(125, TRUNK, (), (), (50, 50)), "broken twice"),
        (lambda: Network(125, TRUNK, (), (), (math.nan,)), "finite"),
        (lambda: Network(125, TRUNK, (), (), "50"), "must be positions"),  # type: ignore[arg-type]
        (lambda: Network(125, TRUNK, terminators=(Terminator(101),)), "beyond the trunk"),
    ],
)
def test_what_cannot_be_built_is_refused_in_a_sentence(
    make: Callable[[], object], words: str
) -> None:
    with pytest.raises(PlanError) as caught:
        make()
    sentence = str(caught.value)
    assert words in sentence
    assert sentence.endswith(".")


def test_a_network_knows_its_parts() -> None:
    far = Tap(80, Drop(0, (), (Drop(1, (Device("b", 0.2),)), Drop(2, (Device("c", 0.3),)))))
    plan = Network(250, (*TRUNK, Segment("thin", 20)), (far, Tap(10, NODE)), (Supply(50),))
    assert plan.trunk_length == 120
    assert plan.tap_names == ("tap 1", "tap 2")
    assert plan.tap_positions == (10, 80)
    assert [device.name for device in plan.devices] == ["sensor", "b", "c"]
    assert plan.addresses == (("sensor", 5), ("b", None), ("c", None))
    assert plan.tap_of("c") is plan.tap("tap 2")
    assert plan.cables == ("thick", "thin")
    assert [t.position for t in plan.terminators or ()] == [0, 120]
    assert list(plan.pieces(90, 110)) == [(plan.segments[0], 10), (plan.segments[1], 10)]
    assert plan.supply.position == 50
    assert plan.with_supply_at(7).supply.position == 7
    with pytest.raises(PlanError, match="no device 'd'"):
        plan.tap_of("d")


def test_lists_do_as_well_as_tuples() -> None:
    parts: Any = [Segment("thick", 100)], [Tap(10, NODE)], [Supply(50)], [70.0]
    assert Network(250, *parts) == Network(250, *map(tuple, parts))
    listed: Any = [Device("a", 0.1)]
    assert Drop(1, listed, [Drop(2)]) == Drop(1, tuple(listed), (Drop(2),))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("position", "cables"),
    [
        (0, ["thick"]),
        (-1e-10, ["thick"]),
        (1e-10, ["thick"]),
        (50, ["thick"]),
        (100, ["thick", "thin"]),
        (110, ["thin"]),
        (120, ["thin", "flat"]),
        (125, ["flat"]),
        (130, ["flat"]),
        (130 + 1e-10, ["flat"]),
    ],
)
def test_which_cable_lies_where(position: float, cables: list[str]) -> None:
    plan = Network(250, (*TRUNK, Segment("thin", 20), Segment("flat", 10)))
    assert [segment.cable for segment in plan.segments_at(position)] == cables


def test_constant_power_counts_at_24_volts() -> None:
    assert Device("drive", constant_power=12).nominal_current == 0.5


@given(networks(supplies=(0, 3), power=True, breaks=True))
@settings(deadline=None)
def test_json_brings_back_the_same_network_and_keeps_to_the_schema(plan: Network) -> None:
    text = json.dumps(plan.to_json(), allow_nan=False)
    assert Network.from_json(json.loads(text)) == plan
    VALIDATOR.validate(json.loads(text))


@pytest.mark.parametrize(
    ("sheets", "words"),
    [
        (lambda: [DataSheet("thik", 0.01)], "no cable 'thik'"),
        (lambda: [DataSheet("thick")], "states nothing"),
        (lambda: [DataSheet("thick", 0.0)], "power conductor of the data sheet of thick cable"),
        (lambda: [DataSheet("thick", signal=11.2)], "signal conductor"),
        # Out and back, or another cable's: the planning method's 15 ohm/km would hold no reserve.
        (lambda: [DataSheet("thick", 0.0224)], "22.4 ohm/km .* counts 15 ohm/km"),
        (lambda: [DataSheet("thick", 0.01), DataSheet("thick", None, 0.02)], "Two data sheets"),
        (lambda: ["thick"], "The data sheets"),
    ],
)
def test_a_data_sheet_that_cannot_be_is_refused(sheets: Any, words: str) -> None:
    with pytest.raises(PlanError, match=words):
        Network(125, TRUNK, data_sheets=sheets())


def test_a_data_sheets_figures_say_where_they_are_from() -> None:
    plan = Network(125, TRUNK, data_sheets=(DataSheet("thick", power=0.0112),))
    cable = plan.cable("thick")
    assert "data sheet" in cable.source_of("power_loop_data")
    assert cable.source_of("signal_loop_data") == MANUAL
    assert (cable.power_mm2, cable.signal_mm2) == (None, 0.86)
    assert plan.cable("thin") == CABLES["thin"]


def test_the_schema_is_itself_sound() -> None:
    jsonschema.Draft202012Validator.check_schema(schema())


SOUND = Network(125, TRUNK, (Tap(5, NODE),), (Supply(50, name="main", fuse_left=4),)).to_json()


@pytest.mark.parametrize(
    ("path", "value", "words"),
    [
        (("data_rate",), 300, "125, 250 or 500"),
        (("data_rate",), None, "125, 250 or 500"),
        (("segments",), [], "no segment"),
        (("segments",), {}, "must be a list"),
        (("segments", 0), 7, "must be an object"),
        (("segments", 0, "length"), "long", "segments[0]: The length"),
        (("segments", 0, "lenght"), 5, "segments[0].lenght is not a field"),
        (("taps", 0, "drop"), [], "taps[0].drop must be an object"),
        (
            ("taps", 0, "drop", "devices", 0, "address"),
            64,
            "taps[0].drop.devices[0]: The node address of sensor",
        ),
        (("taps", 0, "drop", "devices", 0, "constant_power"), 5, "one of the two"),
        (("taps", 0, "position"), -1, "taps[0]: The position"),
        (("supplies", 0, "voltage"), 0, "supplies[0]: The voltage"),
        (("supplies", 0, "diode"), "yes", "true or false"),
        (("supplies", 0, "name"), " main", "blanks"),
        (("section_breaks",), [-4], "at least 0 m"),
        (("section_breaks",), 4, "must be positions"),
        (("terminators",), [{"position": 0, "resistance": 0}], "terminators[0]"),
        (("extra",), 1, "extra is not a field"),
    ],
)
def test_bad_json_is_refused_with_its_place_and_by_the_schema(
    path: tuple[str | int, ...], value: object, words: str
) -> None:
    data = json.loads(json.dumps(SOUND))
    inner = data
    for key in path[:-1]:
        inner = inner[key]
    inner[path[-1]] = value
    with pytest.raises(PlanError) as caught:
        Network.from_json(data)
    assert words in str(caught.value)
    assert not VALIDATOR.is_valid(data)


def test_missing_fields_and_endless_branches_are_refused() -> None:
    with pytest.raises(PlanError, match=r"segments is missing"):
        Network.from_json({"data_rate": 125})
    with pytest.raises(PlanError, match="must be an object"):
        Network.from_json(None)  # type: ignore[arg-type]
    drop: dict[str, object] = {"length": 1}
    for _ in range(500):
        drop = {"length": 1, "branches": [drop]}
    data = SOUND | {"taps": [{"position": 1, "drop": drop}]}
    with pytest.raises(PlanError, match="nested too deep"):
        Network.from_json(data)


json_values = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=5),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(
                ["segments", "cable", "length", "taps", "drop", "data_rate", "devices"]
            ),
            inner,
            max_size=4,
        )
    ),
    max_leaves=12,
)


@given(json_values)
def test_any_json_is_read_or_refused_in_a_sentence(data: object) -> None:
    try:
        plan = Network.from_json(data)  # type: ignore[arg-type]
    except PlanError:
        return
    assert Network.from_json(plan.to_json()) == plan
