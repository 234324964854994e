"""The controller's lab of the course, solved from what a trainee is shown."""

from __future__ import annotations

import re
from fractions import Fraction
from ipaddress import IPv4Address, IPv4Interface, IPv4Network
from itertools import product
from math import ceil
from typing import Any

from course_draws import lab, scenarios

from labkit.doors.installed import check_for, page_for
from labkit.doors.prepared import Prepared
from labkit.doors.verdict import Verdict
from labkit.fieldbus.identifier61131 import Fault, name_problem
from labkit.lab.definition import Exercise
from labkit.lab.draw import Scenario
from labkit.language.expression import Prose

LAB = "controller-and-chassis"
DRAWS = 200
_PLATE = re.compile(r"MERE-(\w+)\W+edition\s(\d+), fix\s(\d+)")


def exercise(name: str) -> Exercise:
    return next(each for each in lab(LAB).exercises if each.id == name)


def prepared(drawn: Scenario, name: str) -> Prepared:
    return drawn.prepare(exercise(name))


def question(drawn: Scenario, name: str) -> str:
    return exercise(name).question.render(drawn.names)


def working(drawn: Scenario, name: str) -> str:
    return " ".join(exercise(name).working.render(drawn.names).split())


def judged(drawn: Scenario, name: str, answer: Any) -> Verdict:
    found = prepared(drawn, name)
    return check_for(exercise(name).kind).check(found.ask, found.key, answer)


def rows(drawn: Scenario, name: str) -> list[list[dict[str, Any]]]:
    found: list[list[dict[str, Any]]] = prepared(drawn, name).ask["rows"]
    return found


def told(drawn: Scenario, name: str, cell: dict[str, Any], given: str) -> str:
    """What is said of one wrong cell, the others empty."""
    return judged(drawn, name, {cell["name"]: given}).message


def fitting(mounted: tuple[str, int, int], spare: tuple[str, int, int]) -> str:
    """The plant's rule: the same type, the same edition, the fix the same or higher."""
    if spare[0] != mounted[0]:
        return "other type"
    if spare[1] != mounted[1]:
        return "other edition"
    return "fits" if spare[2] >= mounted[2] else "fix too low"


def plates(row: list[dict[str, Any]]) -> list[tuple[str, int, int]]:
    found = [_PLATE.search(cell["text"]) for cell in row[:2]]
    return [(plate[1], int(plate[2]), int(plate[3])) for plate in found if plate]


def test_every_spare_is_judged_by_the_plates_and_what_is_told_of_it_is_true() -> None:
    findings, equal = set(), 0
    for drawn in scenarios(LAB, DRAWS):
        answer = {}
        for row in rows(drawn, "spares"):
            mounted, spare = plates(row)
            right = fitting(mounted, spare)
            findings.add(right)
            equal += right == "fits" and spare == mounted
            answer[row[2]["name"]] = right
            true = {
                "fits": "",
                "other type": "Both types are MERE-" + spare[0],
                "other edition": f"Both are edition {spare[1]}.",
                "fix too low": f"Fix {spare[2]} is "
                + ("the same as" if spare[2] == mounted[2] else "higher than"),
            }
            for given, words in true.items():
                if given != right:
                    assert words in told(drawn, "spares", row[2], given), (drawn.seed, row)
            assert f"**{right}**" in working(drawn, "spares")
        assert judged(drawn, "spares", answer).right, drawn.seed
    assert findings == {"fits", "other type", "other edition", "fix too low"}
    assert equal


def relay_modules(contactors: int, of_ma: int, lamps: int, lamp_ma: int) -> int:
    """How many with two commons of 4 points and 4500 mA take both, which share no common."""
    for count in range(1, 5):
        for split in product(range(5), repeat=count):
            room = sum(
                min(4 if on else 8, max(0, 4500 - on * of_ma) // lamp_ma)
                for on in split
                if on * of_ma <= 4500
            )
            carried = all(on * of_ma <= 4500 for on in split)
            if sum(split) == contactors and carried and room >= lamps:
                return count
    raise AssertionError


def test_modules_chosen_by_hand_from_what_is_printed_are_right_and_each_shortcut_is_not() -> None:
    for drawn in scenarios(LAB, DRAWS):
        ask: Any = prepared(drawn, "choose").ask
        given = page_for("choose_modules")(ask, None).view()["given"]
        percent = int(re.findall(r"gets (\d+) % more", given["rules"][0])[0])
        lines = [(int(row[1]), row[4]) for row in given["signals"]["rows"]]
        bare = [count for count, _ in lines]
        full = [count + ceil(Fraction(count * percent, 100)) for count in bare]
        a, b, contactors, lamps, levels = full
        inputs = ["T16"] if a <= 8 and b <= 8 else ["N16" if n > 8 else "N8" for n in (a, b)]
        relays = relay_modules(contactors, int(lines[2][1]), lamps, int(lines[3][1]))
        loops = {1: ["L4"], 2: ["L8"], 3: ["L8", "L4"]}[ceil(levels / 4)]
        chosen = ["R8"] * relays + inputs + loops

        takes = {row[0]: (int(row[-2]), int(row[-1])) for row in given["catalogue"]["rows"]}
        of = {re.sub(r"MERE-\d+", "", name): draws for name, draws in takes.items()}
        there = [(int(row[1]), int(row[2])) for row in given["fixed"]["rows"]]
        alone = [sum(of[each][rail] for each in chosen) for rail in (0, 1)]
        total = [alone[rail] + sum(each[rail] for each in there) for rail in (0, 1)]
        gives = [(int(row[1]), int(row[2])) for row in given["supplies"]["rows"]]
        able = [five >= total[0] and other >= total[1] for five, other in gives]
        names = {each["type"]: each["id"] for each in ask["modules"]}
        ids = {re.sub(r"MERE-\d+", "", kind): name for kind, name in names.items()}
        plan: dict[str, Any] = {
            "chassis": "7" if len(chosen) <= 5 else "10",
            "supply": ask["supplies"][able.index(True)]["id"],
            "slots": {str(slot): ids[each] for slot, each in enumerate(chosen, 2)},
            "at_5": str(total[0]),
            "at_24": f"{total[1]} mA",
        }
        verdict = judged(drawn, "choose", plan)
        assert verdict.right, (drawn.seed, verdict.message)
        forgotten = {**plan, "at_5": str(alone[0])}
        assert judged(drawn, "choose", forgotten).slip == "fixed-forgotten"
        fewer = {**plan, "slots": {slot: plan["slots"][slot] for slot in [*plan["slots"]][1:]}}
        assert not judged(drawn, "choose", fewer).right
        if able.index(True):
            weak = judged(drawn, "choose", {**plan, "supply": ask["supplies"][0]["id"]})
            over = [total[rail] > gives[0][rail] for rail in (0, 1)]
            assert weak.slip == ("supply-too-small" if all(over) else "one-rail-checked")
        for word in (*map(str, full[:4]), str(percent)):
            assert word in working(drawn, "choose") + str(given["rules"])


def subnet_of(drawn: Scenario) -> IPv4Network:
    found = re.search(r"[\d.]+/\d+", question(drawn, "subnet"))
    assert found
    return IPv4Network(found[0])


def test_the_port_keeps_what_is_a_free_host_of_the_subnet() -> None:
    for drawn in scenarios(LAB, DRAWS):
        hosts = list(subnet_of(drawn).hosts())
        taken = re.findall(r"\d+\.\d+\.\d+\.\d+(?!/)\b", question(drawn, "subnet"))
        assert len({*taken}) >= 4
        right = [
            box["id"]
            for box in prepared(drawn, "subnet").ask["boxes"]
            if IPv4Address(box["text"]) in hosts and box["text"] not in taken
        ]
        assert judged(drawn, "subnet", right or ["none"]).right, drawn.seed


def test_whether_the_laptop_reaches_the_port_directly() -> None:
    seen = set()
    for drawn in scenarios(LAB, DRAWS):
        laptop, port = map(IPv4Interface, re.findall(r"[\d.]+\.\d+/\d+", question(drawn, "reach")))
        assert laptop.ip in list(subnet_of(drawn).hosts())
        if port.ip not in laptop.network:
            assert port.ip in list(port.network.hosts())
            words = "another subnet"
        elif port.ip == laptop.ip:
            words = "the same address"
        elif port.ip == laptop.network.broadcast_address:
            words = "no host may have"
        else:
            assert port.ip in list(laptop.network.hosts())
            words = "reaches the port directly"
        seen.add(words)
        options = prepared(drawn, "reach").ask["options"]
        choice = [option["id"] for option in options if words in option["text"]]
        assert judged(drawn, "reach", choice[0]).right, drawn.seed
        verdicts = {
            "another subnet": "through the gateway alone",
            "the same address": "own address",
            "no host may have": "broadcast",
            "reaches the port directly": "**yes**",
        }
        assert verdicts[words] in working(drawn, "reach")
    assert len(seen) == 4


def test_boards_written_by_hand_from_the_question_are_right() -> None:
    forms = (
        "edition {}, fix {}", "Edition {} Fix {}", "{} fix {}", "{}/{}", "{}.{}", "{}, {}",
    )  # fmt: skip
    for number, drawn in enumerate(scenarios(LAB, DRAWS)):
        ask = prepared(drawn, "board").ask
        asked = question(drawn, "board")
        barred = set(re.findall(r"\d+\.\d+\.\d+\.\d+", asked.partition("taken:")[2]))
        assert len(barred) == 4
        found = re.search(r"\(taken: (\d+); keep (\d+) free\) and (\d+) kbit/s", asked)
        assert found
        net = subnet_of(drawn)
        free = [str(host) for host in net.hosts() if str(host) not in barred]
        nodes = [str(node) for node in range(64) if str(node) not in found.groups()[:2]]
        cards = {}
        for each in ask["modules"]:
            _, edition, fix = plates([{"text": f"{each['type']} {each['revision']}"}])[0]
            cards[each["id"]] = {
                "slot": str(each["slot"]),
                "name": f"Packing_{each['id']}",
                "revision": forms[number % len(forms)].format(edition, fix),
                "note": "packing hall, cabinet on the left",
            }
        board: dict[str, Any] = {
            "cards": cards,
            "ethernet": {"address": free[number % len(free)], "prefix": str(net.prefixlen)},
            "scanner": {"node": nodes[number % len(nodes)], "rate": found[3]},
        }
        verdict = judged(drawn, "board", board)
        assert verdict.right, (drawn.seed, verdict.message)
        for wrong in barred | {str(net.network_address), str(net.broadcast_address)}:
            changed = {**board, "ethernet": {**board["ethernet"], "address": wrong}}
            assert judged(drawn, "board", changed).credit == 0.9, (drawn.seed, wrong)


def test_the_outputs_at_the_change_to_run_follow_from_the_inputs() -> None:
    for drawn in scenarios(LAB, DRAWS):
        inputs = {
            name: state == "on"
            for name, state in re.findall(r"(\w+) is\s+(on|off)", question(drawn, "to-run"))
        }
        assert len(inputs) == 4
        answer = {}
        for row in rows(drawn, "to-run"):
            rung = row[1]["text"].replace("AND", "and").replace("OR", "or").replace("NOT", "not")
            answer[row[2]["name"]] = "on" if eval(rung, {}, inputs) else "off"
        assert judged(drawn, "to-run", answer).right, drawn.seed


def test_whatever_drops_outputs_or_bares_a_module_is_said_where_it_is_done() -> None:
    drawn = scenarios(LAB, 1)[0]
    told_first = next(part for part in lab(LAB).body if isinstance(part, Prose))
    first = " ".join(told_first.render(drawn.names).replace(">", "").split())
    bench = prepared(drawn, "bench").ask["caution"]
    for text in (first, bench):
        assert re.search("witching (a chassis )?off drops", text)
        assert re.search("may (go back to )?run", text)
    for text in (first, bench, working(drawn, "spares")):
        assert "earthed" in text
    assert "drop its outputs" in working(drawn, "order")
    assert "everybody knows" in working(drawn, "loading")


def test_the_proposed_names_are_judged_as_the_standard_does() -> None:
    findings = {
        None: "valid",
        Fault.DIGIT_FIRST: "digit first",
        Fault.SPACE: "space or other sign",
        Fault.HYPHEN: "space or other sign",
        Fault.CHARACTER: "space or other sign",
        Fault.DOUBLE_UNDERSCORE: "underscore in a wrong place",
        Fault.LAST_UNDERSCORE: "underscore in a wrong place",
        Fault.KEYWORD: "keyword",
    }
    pool = {text for each in scenarios(LAB, DRAWS) for text in each.names["judged"]}
    assert len(pool) == 18
    for text in pool:
        name, said = text.split("|")
        problem = name_problem(name)
        assert findings[problem.fault if problem else None] == said, name
