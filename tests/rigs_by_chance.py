"""Training rigs by chance, as files of trainers would describe them: all of them invented."""

from __future__ import annotations

import json
import random

from labkit.lab.reading.rig_file import rig_of
from labkit.lab.rig import Rig

NAMES = ("sensors", "valves", "drive", "panel", "gate", "reader")


def devicenet_text(seed: int, more: str = "") -> str:
    """A board of DeviceNet: a short trunk with drops, one supply."""
    rng = random.Random(f"DeviceNet rig {seed}")
    names = ["scanner", *rng.sample(NAMES, rng.randint(2, 4))]
    places, at = [], 0.0
    for _ in names:
        at += rng.choice([1.0, 1.5, 2.0, 4.0, 8.0])
        places.append(at)
    drops = [rng.choice([0.5, 1.0, 2.0]) for _ in names]
    currents = [rng.choice([0.05, 0.1, 0.2, 0.4]) for _ in names]
    addresses = [0, *rng.sample(range(1, 63), len(names) - 1)]
    cable = rng.choice(["thin", "thin", "thick"])
    supply = round(rng.choice([0.5, places[1] + 0.3]), 2)
    return f"""---
title: Board {seed}
network:
  family: devicenet
  rate: {rng.choice([125, 250, 500])}
  trunk:
    - {{cable: {cable}, length: {at + rng.choice([0.5, 2.0])}}}
  taps:
    at: '{places}'
    drop: '{drops}'
    device: '{json.dumps(names)}'
    current: '{currents}'
    address: '{addresses}'
  supply: {{at: {supply}, rating: 4}}
scanner: scanner
{more}---
"""


def modbus_text(seed: int, more: str = "") -> str:
    """A board of Modbus: the master and a few devices, one bias."""
    rng = random.Random(f"Modbus rig {seed}")
    names = ["boss", *(f"d{number}" for number in range(rng.randint(2, 4)))]
    places, at = [0.0], 0.0
    for _ in names[1:]:
        at += rng.choice([2.0, 5.0, 10.0, 20.0])
        places.append(at)
    derivations = [0.0, *(rng.choice([0.0, 1.0, 3.0]) for _ in names[1:])]
    addresses = ["none", *map(str, rng.sample(range(1, 99), len(names) - 1))]
    return f"""---
title: Line {seed}
network:
  family: modbus
  rate: {rng.choice([9600, 19200])}
  trunk: {at}
  taps:
    at: '{places}'
    derivation: '{derivations}'
    device: '{json.dumps(names)}'
    address: '[{", ".join(addresses)}]'
  master: '"boss"'
  terminators: {{at: '[0, {at}]', ohms: 120}}
  polarization: {{at: '"boss"', up: 510, down: 510}}
  earth: '"boss"'
scanner: boss
{more}---
"""


def devicenet_rig(seed: int, more: str = "") -> Rig:
    """See `devicenet_text`."""
    return rig_of(devicenet_text(seed, more), "rig.md")


def modbus_rig(seed: int, more: str = "") -> Rig:
    """See `modbus_text`."""
    return rig_of(modbus_text(seed, more), "rig.md")
