"""Wrong whole plans switched on: each broken rule a symptom that is confirmed, or margin.

Confirmed apart from the bench's own run of the bus:

* volts and amperes by ngspice, on a netlist of its own (see `test_bench_spice`): who has power,
  what the supply gives, how far the minus conductor rises between two devices;
* addresses, rates, scan list and sizes by the bus's rules as sentences below;
* outputs by counting bytes;
* lengths and terminators by who hears whom (`test_line_ngspice` holds those waves against ngspice).

LABKIT_WHOLE_PLANS=1000 plays that many, every fifth of them with lines that make waves: about
eighteen minutes of one processor (a hundred took 35 s to four minutes, beside other work).

Last played on 30 November 2026: all 1000 without a contradiction. They broke 1,903 rules: 1,420
showed a symptom in the plan as it stood, 183 one that is seen when the others are mended, and 300
are margin.
"""

import os
import random
from dataclasses import replace
from pathlib import Path

import pytest
from made_up_plans import site_by_chance, wrong_plan
from ngspice_batch import MISSING
from test_bench_spice import Netlist, contradictions, live_lines, printed, stretches

from labkit.bench.bench import Bench
from labkit.doors.plans import Outcome, SwitchedOn
from labkit.families.devicenet.bench.setup import Setup
from labkit.families.devicenet.bench.trace import EntryState
from labkit.families.devicenet.whole_plan.made import Made, MadeDevice, made_of
from labkit.families.devicenet.whole_plan.rules import broken_in, mended
from labkit.families.devicenet.whole_plan.switching_on import Seen, seen_of, switched_on

PLANS = int(os.environ.get("LABKIT_WHOLE_PLANS", "0"))
USUAL = 40
EVERY = 5
"""Of the many plans one in so many has a line that makes waves, over which the bench takes long."""
ONCE_WRONG = (785,)
"""Of a thousand: what a line showed was put down to the only terminator, which stood on a drop."""
ALWAYS_SHOWN = {
    "one data rate",
    "an address of its own",
    "in the scan list",
    "its own sizes",
    "its own bytes",
    "its own input bytes",
    "a drop that reaches",
}
OF_POWER = ("strong enough", "load on the", "current of a drop")
OF_LINE = (
    "single drop",
    "all drops together",
    "length of the trunk",
    "a terminator at each end",
    "no terminator elsewhere",
)
MINUS_APART_VOLT = 3.5
"""A sender's CAN_L is 1.5 V above its own minus, and a receiver follows down to 2 V under its own;
so too its CAN_H of 3.5 V, up to 7 V (ISO 11898-2, the range from memory)."""
MORE_OR_LESS_VOLT = 0.5
"""What the receivers' own bias moves on a bus whose minus is not the same everywhere."""


@pytest.mark.parametrize("seed", [*range(PLANS or USUAL), *(() if PLANS else ONCE_WRONG)])
def test_every_broken_rule_shows_or_is_margin(seed: int, tmp_path: Path) -> None:
    makes_waves = seed % EVERY == 0 and (PLANS or seed in ONCE_WRONG)
    site, plan = wrong_plan(seed, line=bool(makes_waves))
    made = made_of(site, plan)
    seen, told = seen_of(made), switched_on(site, plan)
    assert (seen.devices, seen.moves, seen.reads) == (told.devices, told.moves, told.reads)
    _power_is_right(made, seen, tmp_path)
    _bus_is_right(made, seen)
    broken = broken_in(made)
    assert [each.rule for each in broken] == [each.broken for each in told.outcomes]
    for outcome in told.outcomes:
        assert bool(outcome.symptom) != bool(outcome.margin), outcome
        alone = mended(made, (outcome.broken.rule, outcome.broken.place))
        _outcome_is_right(made, alone, outcome, tmp_path)
    shown = [each for each in told.outcomes if each.symptom and not each.alone]
    assert bool(seen.wrong) == bool(shown), (seen.wrong, told.outcomes)


@pytest.mark.parametrize("seed", range(3))
def test_a_plan_that_keeps_every_rule_shows_nothing_wrong(seed: int) -> None:
    site, plan = site_by_chance(random.Random(f"good plan {seed}"))
    told: SwitchedOn = switched_on(site, plan)
    assert not told.outcomes
    assert not seen_of(made_of(site, plan)).wrong


# By ngspice.


def _spice(made: Made, folder: Path) -> tuple[dict[str, float], dict[str, float], float]:
    """Volts at each device that is plugged in, its minus above the supply's, A of the supply."""
    bench = made.bench
    assert bench.live is not None
    setup = bench.setup
    assert isinstance(setup, Setup)
    here, faults = bench.live.idle, list(bench.faults)
    first = Netlist(setup, faults, bench.situation)
    supplies, loads, working = stretches(bench, here, first)
    net = Netlist(setup, faults, bench.situation)
    net.volts = first.volts
    net.live(supplies, loads, working)
    [supply] = supplies
    minus = net.name(net.terminals(supply)[1])
    ends = [(net.name(("inner", supply)), minus)]
    ends += [(net.name(net.part(d, 5)), net.name(net.part(d, 1))) for d in loads]
    feet = [(net.name(net.part(d, 1)), minus) for d in loads]
    control = ["op", *(f"print i({meter})" for meter in net.meters.values())]
    control += [f"print v({a},{b})" for a, b in [*ends, *feet]]
    found = printed(live_lines(net, 0.0), control, len(control) - 1, folder)
    reached = {each.name for each in made.devices if each.reaches}
    rest = [
        volt if name is None or name in reached else float("nan")
        for name, volt in zip([None, None, *loads], found, strict=False)
    ]
    assert not contradictions(net, supplies, loads, working & reached, rest, driven=True)
    volts = dict(zip(loads, found[2:], strict=False))
    rises = dict(zip(loads, found[2 + len(loads) :], strict=True))
    return (
        {name: volt for name, volt in volts.items() if name in reached},
        {name: volt for name, volt in rises.items() if name in reached},
        found[0],
    )


def _power_is_right(made: Made, seen: Seen, folder: Path) -> None:
    if MISSING:
        return
    volts, _, ampere = _spice(made, folder)
    assert seen.supply_current == pytest.approx(ampere, abs=0.01)
    for each in seen.devices:
        truth = volts.get(each.name, 0.0)
        assert each.volts == pytest.approx(truth, abs=0.02), each
        assert each.powered == (11 <= truth <= 25), each


def _power_suffers(made: Made, folder: Path, limit_volt: float) -> bool:
    """Whether a device lacks voltage, or stands so high that it cannot follow the others."""
    volts, rises, _ = _spice(made, folder)
    high = max(rises.values()) - min(rises.values())
    return min(volts.values()) < 11 or high > limit_volt


# By the bus's rules.


def _alone_there(device: MadeDevice, made: Made) -> bool:
    return sum(each.address == device.address for each in made.devices) == 1


def _bus_is_right(made: Made, seen: Seen) -> None:
    states = {each.name: each for each in seen.devices}
    scanner = made.device(made.scanner)
    for each in made.asked:
        green = states[each.name].light == "green"
        sizes = (each.input_bytes, each.output_bytes) == (each.produces, each.consumes)
        fit = each.listed and each.rate == made.rate and each.reaches
        if not (fit and states[each.name].powered):
            assert not green, (each, states[each.name])
        elif seen.clear and _alone_there(each, made) and _alone_there(scanner, made):
            assert green == sizes, (each, states[each.name])
            assert (seen.states[each.name] is EntryState.SIZES_DIFFER) == (not sizes)
    _twice_is_refused(made, seen)
    _bytes_move(made, seen)
    _bytes_are_read(made, seen)


def _twice_is_refused(made: Made, seen: Seen) -> None:
    """Of those that hear each other on one address one is on line at most."""
    if not seen.clear:
        return
    lights = {each.name: each.light for each in seen.devices}
    for address in {each.address for each in made.devices}:
        there = [e for e in made.devices if e.address == address and e.rate == made.rate]
        on_line = [e for e in there if lights[e.name] in ("green", "flashing green")]
        assert len(on_line) <= 1, (address, lights)


def _bytes_move(made: Made, seen: Seen) -> None:
    # Two on one address: whoever answers there gets what the entry of the first one takes.
    if len({each.address for each in made.devices}) < len(made.devices):
        return
    for name, moving in seen.moves:
        wanted = made.device(name)
        written = set(range(wanted.program_at, wanted.program_at + wanted.consumes))
        expected = set()
        for each in made.asked:
            if each.consumes and seen.states[each.name] is EntryState.OK:
                taken = set(range(each.outputs_at, each.outputs_at + each.output_bytes))
                if taken & written:
                    expected.add(each.name if taken <= written else f"{each.name} in part")
        assert set(moving) == expected, (name, moving, expected)


def _bytes_are_read(made: Made, seen: Seen) -> None:
    """The table filled once more, byte by byte: whose bytes are on, who reads them."""
    if len({each.address for each in made.devices}) < len(made.devices):
        return
    sending = [each for each in made.asked if seen.states[each.name] is EntryState.OK]
    for name, read in seen.reads:
        owner = {
            each.inputs_at + at: each.name
            for each in sorted(sending, key=lambda each: each.address)
            for at in range(each.input_bytes)
        }
        expected = []
        for each in made.asked:
            window = [owner.get(each.reads_at + at) == name for at in range(each.produces)]
            if any(window):
                expected.append(each.name if all(window) else f"{each.name} in part")
        assert list(read) == expected, (name, read, expected)


# Each rule.


def _outcome_is_right(made: Made, alone: Made, outcome: Outcome, folder: Path) -> None:
    rule = outcome.broken.rule
    if rule in ALWAYS_SHOWN:
        assert outcome.symptom, outcome
    elif rule == "an address that stays free":
        assert outcome.margin, outcome
    elif rule in OF_LINE:
        _line_is_right(made, alone, outcome)
    else:
        assert rule.startswith(OF_POWER), outcome
        if MISSING or rule not in [each.rule.rule for each in broken_in(alone)]:
            return
        if outcome.margin:
            assert not _power_suffers(alone, folder, MINUS_APART_VOLT + MORE_OR_LESS_VOLT), outcome
        else:
            # What it shows in the whole may need the others too.
            least = MINUS_APART_VOLT - MORE_OR_LESS_VOLT
            assert any(_power_suffers(each, folder, least) for each in (alone, made)), outcome


def _line_is_right(made: Made, alone: Made, outcome: Outcome) -> None:
    if outcome.margin:
        # Two that need not hear each other may be deaf to each other.
        assert _all_hear(alone.bench) or not seen_of(alone).wrong, outcome
    else:
        assert not _all_hear((alone if outcome.alone else made).bench), outcome


def _all_hear(bench: Bench) -> bool:
    names = [each.name for each in bench.devices if each.powered]
    return all(bench.ears.hear(one, other) for one in names for other in names)


def test_the_confirmation_itself_can_fail() -> None:
    """A plan with two devices on one address is not taken for one that is right."""
    site, plan = next(
        (site, plan)
        for seed in range(100)
        for site, plan in [wrong_plan(seed, line=False)]
        if len({each.address for each in plan.devices.values()}) < len(plan.devices)
    )
    made = made_of(site, plan)
    seen = seen_of(made)
    pretended = tuple(replace(each, light="green") for each in seen.devices)
    with pytest.raises(AssertionError):
        _bus_is_right(made, replace(seen, devices=pretended, clear=True))
