"""A bench with as many nodes as there are addresses: none is looked for that is not there."""

from __future__ import annotations

from pathlib import Path

import pytest

from labkit.bench.bench import Bench
from labkit.bench.codec import to_json
from labkit.bench.possible import possible_faults
from labkit.bench.session import Session
from labkit.bench.situation import Situation
from labkit.doors.installed import check_for
from labkit.families.devicenet.bench.actions import SetSwitches
from labkit.families.devicenet.bench.faults import AddressSet
from labkit.families.devicenet.bench.setup import Setup
from labkit.families.devicenet.node_addresses import addressed
from labkit.families.devicenet.timing_functions import longest_scan
from labkit.fieldbus.devicenet.network import Network
from labkit.fieldbus.errors import PlanError
from labkit.lab.draw import Scenario, draw
from labkit.lab.reading import read_lab
from labkit.language.problems import DefinitionError

LAB = """---
id: full-house
version: 1.0.0
title: Full house
minutes: 10
draw:
  n: {from: 2, to: 5}
let:
  positions: 'running_total([6] * COUNT)'
  names: '"NAMES".split()'
network:
  family: devicenet
  rate: 125
  trunk:
    - {cable: thick, length: 400}
  taps: {at: positions, drop: '[1] * COUNT', device: names, current: '[0.1] * COUNT'}
  supply: {at: 190, rating: 8}
---
# Full house

The plant is invented.

```exercise dark
kind: diagnosis
title: One is dark
marks: 1
question: |
  Find the fault.
scanner: station0
cases:
  - - {kind: address set, device: station7, address: 63}
working: |
  Look at the indicators.
```
"""


def drawn(folder: Path, count: int) -> Scenario:
    names = " ".join(f"station{number}" for number in range(count))
    path = folder / "lab.md"
    path.write_text(LAB.replace("COUNT", str(count)).replace("NAMES", names), encoding="utf-8")
    return draw(read_lab(path), "full")


def plan_of(folder: Path, count: int) -> Network:
    plan = drawn(folder, count).network
    assert isinstance(plan, Network)
    return plan


@pytest.mark.parametrize("count", [62, 63, 64])
def test_every_node_gets_an_address_and_63_last(tmp_path: Path, count: int) -> None:
    plan = addressed(plan_of(tmp_path, count))
    assert [device.address for device in plan.devices] == list(range(count))


def test_addresses_that_run_out_are_said(tmp_path: Path) -> None:
    with pytest.raises(PlanError, match=r"No node address is left for station64: .* Take devices"):
        addressed(plan_of(tmp_path, 65))
    scenario = drawn(tmp_path, 65)
    with pytest.raises(DefinitionError, match="No node address is left for station64"):
        scenario.prepare(scenario.lab.exercises[0])


@pytest.mark.parametrize("count", [62, 63, 64])
def test_an_exercise_on_a_full_network_is_made_and_marked(tmp_path: Path, count: int) -> None:
    scenario = drawn(tmp_path, count)
    prepared = scenario.prepare(scenario.lab.exercises[0])
    check = check_for("diagnosis")
    right = check.right_answer(prepared.ask, prepared.key)
    assert check.check(prepared.ask, prepared.key, right).right
    for slip, answer in check.slip_answers(prepared.ask, prepared.key).items():
        assert check.check(prepared.ask, prepared.key, answer).slip == slip


@pytest.mark.parametrize("count", [62, 63, 64])
def test_possible_faults_and_every_address_at_the_switches(tmp_path: Path, count: int) -> None:
    setup = Setup(addressed(plan_of(tmp_path, count)), "station0")
    faults = possible_faults(setup)
    assert sum(isinstance(fault, AddressSet) for fault in faults) == count
    session = Session.at(Bench(setup, frozenset(), Situation()))
    for address in range(64):
        session = session.replay([to_json(SetSwitches("station3", address, 125))])
    assert session.bench.faults == {AddressSet("station3", 63)}


def test_a_scan_list_of_all_addresses_is_refused_in_words() -> None:
    entries = [{"address": address, "kind": "poll", "input": 1} for address in range(64)]
    assert longest_scan(entries[:63], 125) > 0
    with pytest.raises(ValueError, match="the scanner needs one too"):
        longest_scan(entries, 125)
