"""The controller's lab of the course, solved from what a trainee is shown."""

from __future__ import annotations

import re
from ipaddress import IPv4Address, IPv4Interface, IPv4Network
from typing import Any

from course_draws import lab, scenarios

from labkit.doors.installed import check_for
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


def test_the_module_is_chosen_by_inputs_slots_and_current_as_they_are_printed() -> None:
    seen = set()
    for drawn in scenarios(LAB, DRAWS):
        asked = question(drawn, "module")
        [wanted] = re.findall(r"needs (\d+) more inputs", asked)
        [slots] = re.findall(r"Slots (\d+) and (\d+) are free", asked)
        [rating] = re.findall(r"gives\s+([\d.]+) A", asked)
        [taken] = re.findall(r"take ((?:[\d,\s]|and)+) mA", asked)
        [kept] = re.findall(r"and (\d+) mA stay free", asked)
        may = round(float(rating) * 1000) - sum(map(int, re.findall(r"\d+", taken))) - int(kept)
        fits: dict[int, Any] = {}
        options = prepared(drawn, "module").ask["options"]
        for option in options:
            plate = re.match(r"(\d+) inputs, (one slot|two slots), (\d+) mA", option["text"])
            if not plate:
                fits.setdefault(10_000, option)
                continue
            inputs, width, takes = int(plate[1]), plate[2], int(plate[3])
            beside = int(slots[1]) - int(slots[0]) == 1
            assert takes > 0
            if inputs >= int(wanted) and takes <= may and (width == "one slot" or beside):
                fits[takes] = option
        right = fits[min(fits)]
        seen.add(re.sub(r", \d+ mA", "", right["text"]))
        for option in options:
            verdict = judged(drawn, "module", option["id"])
            assert verdict.right == (option == right), (drawn.seed, option)
    assert len(seen) == 4


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
