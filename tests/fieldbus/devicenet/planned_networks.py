"""Hypothesis strategies for planned DeviceNet networks."""

from functools import cache

from hypothesis import strategies as st

from labkit.fieldbus.devicenet.cable import DataSheet
from labkit.fieldbus.devicenet.network import Device, Drop, Network, Segment, Supply, Tap

GRID = 0.5  # m: positions fall on it, so that ties of tap, joint and supply are common


@cache
def devices(power: bool) -> st.SearchStrategy[list[Device]]:
    loads: st.SearchStrategy[tuple[float, float | None]]
    loads = st.integers(0, 40).map(lambda n: (n / 100, None))
    if power:
        loads |= st.integers(0, 60).map(lambda n: (0.0, n / 10))
    return st.lists(
        st.tuples(loads, st.none() | st.integers(0, 63)).map(
            lambda pair: Device("unnamed", pair[0][0], pair[1], pair[0][1])
        ),
        max_size=2,
    )


@cache
def drops(power: bool = False, depth: int = 2) -> st.SearchStrategy[Drop]:
    branches: st.SearchStrategy[list[Drop]] = st.just([])
    if depth:
        branches |= st.lists(drops(power, depth - 1), max_size=2)
    lengths = st.integers(0, 12).map(lambda n: n / 2)
    return st.builds(Drop, lengths, devices(power), branches)


@st.composite
def networks(
    draw: st.DrawFn,
    *,
    cables: tuple[str, ...] = ("thick", "thin", "flat"),
    supplies: tuple[int, int] = (1, 1),
    power: bool = False,
    breaks: bool = False,
    max_taps: int = 7,
) -> Network:
    lengths = draw(st.lists(st.integers(2, 160), min_size=1, max_size=3))
    segments = [Segment(draw(st.sampled_from(cables)), n * GRID) for n in lengths]
    end = sum(lengths)
    places = draw(st.lists(st.integers(0, end), unique=True, max_size=max_taps))
    taps = [Tap(place * GRID, draw(drops(power))) for place in places]
    stands = draw(st.lists(st.integers(0, end), min_size=supplies[0], max_size=supplies[1]))
    fed = [
        Supply(
            place * GRID,
            voltage=draw(st.integers(235, 245)) / 10,
            resistance=draw(st.integers(1, 10)) / 100 if supplies[1] > 1 else 0.0,
        )
        for place in stands
    ]
    cuts = draw(st.lists(st.integers(0, end - 1), unique=True, max_size=2)) if breaks else []
    sheets = []
    for cable in draw(st.lists(st.sampled_from(cables), unique=True)):
        # Up to what the full calculation method counts with.
        feeding = draw(st.none() | st.integers(1, 15).map(lambda n: n / 1000))
        signal = draw(st.integers(1, 100).map(lambda n: n / 1000))
        sheets.append(DataSheet(cable, feeding, signal))
    return Network(
        draw(st.sampled_from((125, 250, 500))),
        tuple(segments),
        tuple(numbered(tap, index) for index, tap in enumerate(taps)),
        tuple(fed),
        tuple((cut + 0.25) * GRID for cut in cuts),
        data_sheets=tuple(sheets),
    )


def numbered(tap: Tap, index: int) -> Tap:
    count = iter(range(1000))

    def renamed(drop: Drop) -> Drop:
        own = [
            Device(f"node {index}.{next(count)}", d.current, d.address, d.constant_power)
            for d in drop.devices
        ]
        return Drop(
            drop.length, tuple(own), tuple(renamed(branch) for branch in drop.branches), drop.cable
        )

    return Tap(tap.position, renamed(tap.drop), f"T{index}")
