"""A blown fuse in a drop, and two supplies whose sections were not parted.

Break V+ between the sections of several supplies: a published cable guide (reference page). That
each drop has a fuse of its own at its tap: common practice, no source. When a fuse blows: IEC
60127-2, from memory. `tests/reference/test_bench_spice.py` holds volts, ohms and amperes of both
against ngspice.
"""

from dataclasses import replace

import pytest
from modbus_lines import sound_line

from labkit.bench.actions import BreakPlus, Land, PowerOff, PowerOn, ReplaceFuse
from labkit.bench.bench import Bench
from labkit.bench.codec import to_json
from labkit.bench.faults import Broken, Draws, Fault, FuseBlown, PlusJoined, Touching
from labkit.bench.front import BenchFront
from labkit.bench.lookback import told
from labkit.bench.measurements import Ohms, SupplyCurrent, Volts
from labkit.bench.mending import mend
from labkit.bench.possible import possible_faults
from labkit.bench.recording import Recording, record
from labkit.bench.session import Session
from labkit.bench.situation import Situation, Terminal
from labkit.bench.twins import alike, unseen
from labkit.families.devicenet.bench.catalogue import COSTS, EVERYTHING
from labkit.families.devicenet.bench.conductors import CAN_H, CONDUCTORS, DRAIN, V_MINUS, V_PLUS
from labkit.families.devicenet.bench.setup import Setup
from labkit.families.devicenet.bench.trace import EntryState, Trace
from labkit.families.devicenet.bench_reading import DeviceNetBenchReading
from labkit.families.modbus.bench_reading import ModbusBenchReading
from labkit.fieldbus.devicenet.indicators import Indicator
from labkit.fieldbus.devicenet.network import Device, Drop, Network, Segment, Supply, Tap
from labkit.fieldbus.errors import PlanError

LIVE = Situation(power=True)
NAMES = ("scanner", "clamp", "gate", "lamp")


def line(*supplies: Supply, breaks: tuple[float, ...] = ()) -> Network:
    taps = [Tap(6.0 + 24 * n, Drop(2.0, (Device(name, 0.8, n),))) for n, name in enumerate(NAMES)]
    return Network(125, (Segment("thick", 90.0),), tuple(taps), supplies, breaks)


FUSED = Setup(line(Supply(40.0, rating=8)), "scanner", tap_fuse=3.0)
BLOWN = FuseBlown("tap 3, drop")
SHORT = Touching("gate", V_MINUS, V_PLUS)

TWO = Setup(
    line(Supply(10.0, rating=8), Supply(70.0, 24.6, rating=8), breaks=(40.0,)),
    "scanner",
    sections=True,
)
JOINED = PlusJoined("tap 2, right – tap 3, left")


def on(setup: Setup, *faults: Fault, without: str = "") -> Bench:
    out = frozenset({without} if without else ())
    return Bench(setup, frozenset(faults), replace(LIVE, unplugged=out))


def volts(bench: Bench, connector: str) -> float:
    plus, minus = Terminal(connector, 5), Terminal(connector, 1)
    return bench.volts(plus, minus).value or 0.0


def amperes(bench: Bench) -> list[float]:
    return [bench.supply_current(name).value or 0.0 for name in bench.layout.supplies]


# A blown fuse.


def test_behind_a_blown_fuse_there_is_no_v_plus_and_before_it_there_is() -> None:
    bench = on(FUSED, BLOWN)
    assert volts(bench, "tap 3, left") > 23
    assert volts(bench, "tap 3, right") > 23
    assert volts(bench, "tap 3, drop") == volts(bench, "gate") == 0
    assert min(volts(bench, name) for name in ("scanner", "clamp", "lamp")) > 23
    trace = bench.trace
    assert isinstance(trace, Trace)
    assert trace.network_status("gate") is trace.module_status("gate") is Indicator.OFF
    assert trace.report(2).state is EntryState.NO_ANSWER
    assert {trace.report(n).state for n in (1, 3)} == {EntryState.OK}


def test_the_ohmmeter_finds_it_and_tells_it_from_a_conductor_that_is_open() -> None:
    across = Ohms(Terminal("tap 3, left", 5), Terminal("tap 3, drop", 5))
    assert across.take(Bench(FUSED)).text == "0.0 Ω"
    assert across.take(Bench(FUSED, frozenset({BLOWN}))).text == "OL"
    broken = Broken("tap 3, drop", V_PLUS)
    assert across.take(Bench(FUSED, frozenset({broken}))).text == "0.0 Ω"
    assert not alike(on(FUSED, BLOWN), on(FUSED, broken))
    assert unseen(on(FUSED, BLOWN)) == ()


def test_a_new_fuse_mends_it_when_nothing_is_left_of_the_cause() -> None:
    front = BenchFront(FUSED, faults=[BLOWN], start=LIVE)
    assert mend(FUSED, BLOWN) == [to_json(ReplaceFuse("tap 3, drop"))]
    refused = front.take(to_json(ReplaceFuse("tap 3, drop")))
    assert refused["refused"]
    for step in (PowerOff(), ReplaceFuse("tap 3, drop"), PowerOn()):
        assert not front.take(to_json(step))["refused"]
    assert front.session is not None
    assert front.session.bench.faults == frozenset()
    assert volts(front.session.bench, "gate") > 23


@pytest.mark.parametrize("short", [SHORT, Touching("tap 3, drop", V_PLUS, DRAIN)])
def test_on_a_short_a_new_fuse_blows_again_and_the_meter_shows_the_short_before(
    short: Touching,
) -> None:
    bench = ReplaceFuse("tap 3, drop").do(Bench(FUSED, frozenset({short, BLOWN})))
    assert bench.faults == {short}
    at_tap = Ohms(Terminal("tap 3, left", 5), Terminal("tap 3, left", 1))
    assert (at_tap.take(bench).value or 0) < 1.0
    bench = PowerOn().do(bench)
    assert bench.faults == {short, BLOWN}
    assert min(volts(bench, name) for name in ("scanner", "clamp", "lamp")) > 23
    bench = Land(short.connector, CONDUCTORS.in_order).do(PowerOff().do(bench))
    assert bench.faults == {BLOWN}
    assert PowerOn().do(ReplaceFuse("tap 3, drop").do(bench)).faults == frozenset()


def test_a_fuse_carries_twice_its_rating_and_a_short_that_a_weak_supply_feeds() -> None:
    strong = replace(FUSED, plan=line(Supply(40.0, rating=12)))
    for ampere, blows in ((6.0, False), (6.2, False), (6.4, True)):
        greedy = Draws("gate", ampere)
        after = PowerOn().do(Bench(strong, frozenset({greedy})))
        assert after.faults == {greedy, *[BLOWN] * blows}
    weak = replace(FUSED, plan=line(Supply(40.0, rating=5)))
    assert PowerOn().do(Bench(weak, frozenset({SHORT}))).faults == {SHORT}
    # A device that only fell silent, or a signal pair that is shorted, blows none.
    pair = Touching("gate", CAN_H, V_PLUS)
    assert PowerOn().do(Bench(FUSED, frozenset({pair}))).faults == {pair}


def test_a_drop_with_several_devices_has_one_fuse_and_a_tap_of_two_ports_two() -> None:
    several = Tap(6.0, Drop(2.0, (Device("one", 0.1, 1), Device("two", 0.1, 2))), "first")
    ports = Drop(
        0.0, (), (Drop(1.0, (Device("three", 0.1, 3),)), Drop(1.0, (Device("f", 0.1, 4),)))
    )
    plan = Network(125, (Segment("thick", 30.0),), (several, Tap(12.0, ports)), (Supply(20.0),))
    setup = Setup(plan, "one", tap_fuse=2.0)
    assert setup.layout.fused == ("first, drop", "tap 2, drop 1", "tap 2, drop 2")
    bench = on(setup, FuseBlown("first, drop"))
    assert bench.live is not None
    assert bench.live.powered == {"three", "f"}


def test_without_fuses_nothing_is_new() -> None:
    bare = replace(FUSED, tap_fuse=0.0)
    assert "tap_fuse" not in bare.to_json()
    assert "fuse blown" not in bare.catalogue.faults
    assert "fuse blown" not in bare.catalogue.choices
    assert "replace fuse" not in bare.catalogue.costs
    assert Setup.from_json(bare.to_json()) == bare
    with pytest.raises(PlanError, match="no fuse at tap 3, drop; the drops with a fuse are: none"):
        Bench(bare, frozenset({BLOWN}))
    with pytest.raises(PlanError, match="There is no fuse at gate; the drops with a fuse are: tap"):
        ReplaceFuse("gate").do(Bench(FUSED))
    mine = [each for each in possible_faults(FUSED) if isinstance(each, FuseBlown)]
    assert [each.connector for each in mine] == [*FUSED.layout.fused]
    # A short of V+ behind a fuse is never there alone.
    gone = set(possible_faults(bare)) - set(possible_faults(FUSED))
    assert gone == {Touching(n, V_MINUS, V_PLUS) for n in NAMES} | {
        Touching(n, DRAIN, V_PLUS) for n in NAMES
    }


def test_set_up_and_fault_are_read_back_and_a_recording_shows_what_the_bench_shows() -> None:
    assert Setup.from_json(FUSED.to_json()) == FUSED
    assert EVERYTHING.fault_from_json(to_json(BLOWN)) == BLOWN
    bench = on(FUSED, BLOWN)
    recorded = Recording(FUSED, record(bench))
    # Of the same size whichever fault it holds, or its size would tell.
    sizes = {
        len(str(record(on(FUSED, fault))["situations"].keys()))
        for fault in (BLOWN, Broken("tap 2, drop", CAN_H))
    }
    assert len(sizes) == 1
    for connector in ("tap 3, drop", "tap 3, left", "gate", "lamp"):
        probe = Volts(Terminal(connector, 5), Terminal(connector, 1))
        assert recorded.take(probe, LIVE).text == probe.take(bench).text
        ohms = Ohms(Terminal("tap 3, left", 5), Terminal(connector, 5))
        dead = Bench(FUSED, frozenset({BLOWN}))
        assert recorded.take(ohms, Situation()).text == ohms.take(dead).text


# Two supplies joined.


def test_parted_supplies_feed_their_sections_and_joined_ones_share_unequally() -> None:
    parted, joined = amperes(on(TWO)), amperes(on(TWO, JOINED))
    assert parted == pytest.approx([1.6, 1.6], abs=2e-3)
    assert sum(joined) == pytest.approx(3.2, abs=2e-3)
    # The one that is 0.6 V higher gives more; without their diodes it would feed the other one.
    assert joined[1] > joined[0] + 0.3


def test_one_supply_carries_all_where_it_stands_higher_than_the_line_loses() -> None:
    high = replace(TWO, plan=line(Supply(10.0), Supply(70.0, 26.0), breaks=(40.0,)))
    assert amperes(on(high)) == pytest.approx([1.6, 1.6], abs=2e-3)
    assert amperes(on(high, JOINED)) == pytest.approx([0.0, 3.2], abs=2e-3)


def test_the_section_of_a_supply_that_is_off_stays_live_while_they_are_joined() -> None:
    for name in ("scanner", "clamp"):
        assert volts(on(TWO, without="supply 1"), name) == 0
        assert volts(on(TWO, JOINED, without="supply 1"), name) > 22
    # With power off the ohmmeter looks through from one section to the other.
    across = Ohms(Terminal("tap 2, right", 5), Terminal("tap 3, left", 5))
    assert across.take(Bench(TWO)).text == "OL"
    assert across.take(Bench(TWO, frozenset({JOINED}))).text == "0.2 Ω"


def test_breaking_v_plus_mends_it_and_breaks_what_is_to_run_through() -> None:
    steps = mend(TWO, JOINED)
    assert steps == [to_json(BreakPlus(JOINED.piece))]
    assert BreakPlus(JOINED.piece).do(Bench(TWO, frozenset({JOINED}))).faults == frozenset()
    words = BreakPlus(JOINED.piece).words_on(TWO.layout)
    assert words == "break V+ in tap 2, right – tap 3, left"
    wrong = BreakPlus("tap 3, right – power tap of supply 2, left").do(Bench(TWO))
    assert wrong.faults == {Broken("tap 3, right", V_PLUS)}
    assert unseen(on(TWO, JOINED)) == ()


def test_where_nobody_says_that_sections_are_joined_nothing_is_new() -> None:
    plain = replace(TWO, sections=False)
    assert "sections" not in plain.to_json()
    assert "plus joined" not in plain.catalogue.choices
    assert "break plus" not in plain.catalogue.costs
    assert JOINED not in possible_faults(plain)
    assert Setup.from_json(TWO.to_json()) == TWO
    assert [f for f in possible_faults(TWO) if isinstance(f, PlusJoined)] == [JOINED]
    assert EVERYTHING.fault_from_json(to_json(JOINED)) == JOINED
    pieces = {each["id"]: each for each in BenchFront(TWO, faults=[]).view()["pieces"]}
    assert [each for each, piece in pieces.items() if "plus" in piece] == [JOINED.piece]
    assert {"replace fuse", "break plus"} < COSTS.keys()


def test_where_v_plus_is_broken_nowhere_nobody_can_forget_it() -> None:
    bare = line(Supply(10.0), Supply(70.0))
    with pytest.raises(PlanError, match="no sections to be joined"):
        replace(TWO, plan=bare)
    with pytest.raises(PlanError, match=r"plus runs through .* It is broken in: no piece"):
        Bench(replace(TWO, plan=bare, sections=False), frozenset({JOINED}))


# Both, looked back at; and what cannot be.


@pytest.mark.parametrize(
    ("setup", "fault", "steps"),
    [
        (
            FUSED,
            BLOWN,
            [
                Volts(Terminal("gate", 5), Terminal("gate", 1)),
                Volts(Terminal("tap 3, drop", 5), Terminal("tap 3, drop", 1)),
                Volts(Terminal("tap 3, left", 5), Terminal("tap 3, left", 1)),
                Ohms(Terminal("tap 3, left", 5), Terminal("tap 3, drop", 5)),
            ],
        ),
        (TWO, JOINED, [SupplyCurrent("supply 1"), SupplyCurrent("supply 2")]),
    ],
)
def test_a_look_back_rules_out_until_it_is_left(
    setup: Setup, fault: Fault, steps: list[Ohms | Volts | SupplyCurrent]
) -> None:
    session = Session.at(on(setup, fault), setup.catalogue.costs)
    for step in steps:
        if isinstance(step, Ohms):
            session = session.take(PowerOff())
        session = session.take(step)
    back = told(session)
    assert back["start"] == len(possible_faults(setup))
    left = [each["after"] for each in back["steps"]]
    assert left == sorted(left, reverse=True)
    assert 1 <= left[-1] <= 2


def test_a_bench_without_power_in_its_cable_has_no_fuse() -> None:
    with pytest.raises(PlanError, match="carries no power: leave 'tap_fuse'"):
        ModbusBenchReading().setup(sound_line(), "controller", tap_fuse=3.0)
    made = DeviceNetBenchReading().setup(FUSED.plan, "scanner", tap_fuse=3.0)
    assert made.layout.fused == FUSED.layout.fused
    with pytest.raises(PlanError, match="The rating of the fuse in each drop"):
        replace(FUSED, tap_fuse=-1.0)
