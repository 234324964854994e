"""The course's lab of timing against the methods that it teaches, and the functions it uses."""

import math
import re
from typing import Any

from course_draws import lab, scenarios
from hypothesis import given
from hypothesis import strategies as st

from labkit.doors.installed import check_for
from labkit.families.devicenet.stuffing_functions import stuff_count, stuffed_row
from labkit.families.devicenet.timing_functions import worst_frame_bits
from labkit.fieldbus.can.bits import bits_of, stuff
from labkit.fieldbus.devicenet.lengths import longest_path_length
from labkit.lab.draw import Scenario
from labkit.language.expression import Prose

DRAWS = 150


@given(st.text("01", min_size=1, max_size=40))
def test_the_row_with_brackets_is_the_row_on_the_wire(row: str) -> None:
    shown = stuffed_row(row)
    assert shown.replace("(", "").replace(")", "") == "".join(map(str, stuff(bits_of(row))))
    assert shown.count("(") == stuff_count(row)


def test_the_response_times_are_those_of_the_hand_method_that_the_lab_teaches() -> None:
    for scenario in scenarios("timing", DRAWS):
        names = scenario.names
        frames = [worst_frame_bits(count) / 125 for count in names["report_bytes"]]
        periods = names["line_periods"]
        assert math.isclose(names["first_worst"], max(frames[1:]) + frames[0])
        wait = math.fsum(frames[:5])
        while True:
            # One bit later the last report has begun, and nobody can overtake it any more.
            counts = [math.ceil((wait + 0.008) / period - 1e-9) for period in periods[:5]]
            longer = math.fsum(n * frame for n, frame in zip(counts, frames, strict=False))
            if math.isclose(longer, wait):
                break
            wait = longer
        assert math.isclose(names["last_worst"], wait + frames[5])
        assert counts == [names["fast_times"], 1, 1, 1, 1]


def test_the_scan_adds_up_by_the_formula_in_the_text() -> None:
    for scenario in scenarios("timing", DRAWS):
        names = scenario.names
        counts = [*names["inputs"], *names["outputs"]]
        bits = sum(47 + 8 * n + (33 + 8 * n) // 4 for n in counts)
        assert math.isclose(names["longest"], bits / names["rate"] + names["pause"])
        busy = names["longest"] - names["pause"]
        assert math.isclose(names["load"], 100 * busy / names["longest"])


def test_the_bit_timing_allows_the_trunk_that_is_drawn_and_keeps_to_eight_quanta() -> None:
    for scenario in scenarios("timing", DRAWS):
        names = scenario.names
        # ISO 11898-1: 1 to 8 quanta of propagation segment; 16 quanta in a bit, 5 ns/m.
        assert 1 <= names["prop"] <= 8
        segment = names["prop"] * 1_000_000 / names["rate"] / 16
        metres = (segment / 2 - names["driver"] - names["receiver"]) / 5
        assert math.isclose(names["bus_metres"], metres)
        assert metres >= longest_path_length(scenario.network)


def test_the_own_frame_left_out_is_told_as_that_and_not_as_a_report_that_goes_once() -> None:
    for scenario in scenarios("timing", DRAWS):
        [exercise] = [each for each in scenario.lab.exercises if each.id == "last-response"]
        prepared, check = scenario.prepare(exercise), check_for(exercise.kind)
        names = scenario.names
        for slip, wrong in (
            ("wait-only", names["last_worst"] - names["last_ms"]),
            ("each-once", names["once_ms"]),
        ):
            told = check.check(prepared.ask, prepared.key, f"{wrong:.3f} ms")
            assert told.slip == slip, scenario.seed


def test_one_byte_is_one_byte() -> None:
    prose = [part for part in lab("timing").body if isinstance(part, Prose)]
    for scenario in scenarios("timing", 40):
        assert not any("| 1 bytes" in part.render(scenario.names) for part in prose)


def judged(scenario: Scenario, name: str, answer: Any) -> bool:
    [exercise] = [each for each in scenario.lab.exercises if each.id == name]
    prepared = scenario.prepare(exercise)
    return check_for(exercise.kind).check(prepared.ask, prepared.key, answer).right


def asked(scenario: Scenario, name: str) -> Any:
    [exercise] = [each for each in scenario.lab.exercises if each.id == name]
    return scenario.prepare(exercise).ask


def question(scenario: Scenario, name: str) -> str:
    [exercise] = [each for each in scenario.lab.exercises if each.id == name]
    return exercise.question.render(scenario.names)


def worst(data: int) -> int:
    return 47 + 8 * data + (33 + 8 * data) // 4


def test_the_slowest_rate_is_that_at_which_the_longest_frame_is_over_in_time() -> None:
    chosen, traps = set(), 0
    for scenario in scenarios("timing", DRAWS):
        said = question(scenario, "carries")
        [(data, limit)] = re.findall(r"of (\d) bytes must be over (\d+) µs", said)
        rates = [rate for rate in (125, 250, 500) if 1000 * worst(int(data)) <= int(limit) * rate]
        plain = [r for r in (125, 250, 500) if 1000 * (47 + 8 * int(data)) <= int(limit) * r]
        traps += plain[0] != (rates or [0])[0]
        right = f"{rates[0]} kbit/s" if rates else "None of the three"
        chosen.add(right)
        for option in asked(scenario, "carries")["options"]:
            found = judged(scenario, "carries", option["id"])
            assert found == option["text"].startswith(right), (scenario.seed, option)
    assert len(chosen) == 4
    assert traps > DRAWS / 4


def test_a_scan_is_made_faster_by_what_takes_enough_off_it() -> None:
    counts = set()
    for scenario in scenarios("timing", DRAWS):
        names = scenario.names
        pairs = list(zip(names["outputs"], names["inputs"], strict=True))
        [limit] = re.findall(r"at most ([\d.]+) ms", question(scenario, "faster"))

        def scan(
            pairs: list[tuple[int, int]], rate: int = names["rate"], pause: float = names["pause"]
        ) -> float:
            return sum(worst(out) + worst(back) for out, back in pairs) / rate + pause

        right = []
        for box in asked(scenario, "faster")["boxes"]:
            text = box["text"]
            at = [i for i, name in enumerate(names["devices"]) if f"the {name}" in text]
            then = scan(pairs)
            if text.startswith("Halve"):
                then = scan(pairs, pause=names["pause"] / 2)
            elif text.startswith("Double"):
                then = scan(pairs, rate=min(500, 2 * names["rate"]))
            elif text.startswith("Take"):
                then = scan(pairs[: at[0]] + pairs[at[0] + 1 :])
            elif text.startswith("Leave"):
                out, back = pairs[at[0]]
                then = scan([*pairs[: at[0]], (out - 1, back - 1), *pairs[at[0] + 1 :]])
            assert abs(then - float(limit)) > 0.01, (scenario.seed, text)
            right += [box["id"]] if then <= float(limit) else []
        counts.add(len(right))
        assert scan(pairs) > float(limit)
        assert judged(scenario, "faster", right or ["none"]), scenario.seed
    assert counts == {0, 1, 2}


def test_a_bus_longer_than_the_timing_allows_is_never_right() -> None:
    for scenario in scenarios("timing", DRAWS):
        [exercise] = [each for each in scenario.lab.exercises if each.id == "bus-length"]
        prepared, check = scenario.prepare(exercise), check_for(exercise.kind)
        most = scenario.names["bus_metres"]
        whole = math.floor(most + 1e-9)
        for metres, right in ((most, True), (whole, True), (most + 0.1, False)):
            verdict = check.check(prepared.ask, prepared.key, f"{metres:.1f} m")
            assert verdict.right is right, (scenario.seed, metres)


def test_the_frame_of_the_last_in_rank_is_not_the_longest_that_may_be_under_way() -> None:
    for scenario in scenarios("timing", DRAWS):
        [exercise] = [each for each in scenario.lab.exercises if each.id == "first-response"]
        prepared, check = scenario.prepare(exercise), check_for(exercise.kind)
        frames = [worst_frame_bits(count) / 125 for count in scenario.names["report_bytes"]]
        told = check.check(prepared.ask, prepared.key, f"{frames[0] + frames[5]:.3f} ms")
        assert told.slip in ("last-in-rank", "no-stuffing"), scenario.seed
