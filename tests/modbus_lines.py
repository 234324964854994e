"""Planned Modbus lines for tests: one that keeps every rule, and random ones."""

import random
from dataclasses import replace

from labkit.fieldbus.modbus import (
    Cable,
    Derivation,
    Device,
    Network,
    Place,
    Polarization,
    Tap,
    Terminator,
)


def sound_line() -> Network:
    """Five stations over 400 m at 9,600 bit/s: every rule holds."""
    taps = (
        Tap.to(0, Device("controller", master=True)),
        Tap(
            120,
            (
                Derivation(2, (Device("flow meter", 11, needs_polarization=True),)),
                Derivation(15, (Device("level meter", 12, unit_loads=0.5),)),
            ),
        ),
        Tap.to(250, Device("pump drive", 21), derivation=18),
        Tap.to(400, Device("valve block", 31)),
    )
    return Network(
        400,
        taps,
        (Terminator("controller"), Terminator(400)),
        (Polarization("controller", 450, 450),),
        ("controller",),
        9600,
    )


def random_line(rng: random.Random) -> Network:
    """A line with terminators and polarizations anywhere, sound or not."""
    length = rng.uniform(5, 1500)
    taps = []
    for at in range(rng.randint(1, 12)):
        derivations = []
        for branch in range(rng.randint(1, 3)):
            named = [f"d{at}-{branch}-{count}" for count in range(rng.randint(0, 2))]
            devices = tuple(Device(name, unit_loads=rng.choice([1, 0.5, 0.125])) for name in named)
            derivations.append(Derivation(rng.choice([0, rng.uniform(0.5, 30)]), devices))
        taps.append(Tap(length * (at + 1) / 14, tuple(derivations)))
    cable = rng.choice([Cable(), Cable(0.128), Cable(ohm_per_km=0), Cable(ohm_per_km=200)])
    plan = Network(length, tuple(taps), cable=cable)

    def place() -> Place:
        places: list[Place] = [0.0, length, rng.uniform(0, length), *plan.spots]
        return rng.choice(places)

    terminators = tuple(
        Terminator(place(), rng.choice([120, 150, 100]), rng.choice([0, 0, 1]))
        for _ in range(rng.randint(0, 4))
    )
    pairs = tuple(
        Polarization(place(), rng.uniform(300, 1000), rng.uniform(300, 1000))
        for _ in range(rng.randint(1, 3))
    )
    return replace(plan, terminators=terminators, polarizations=pairs)
