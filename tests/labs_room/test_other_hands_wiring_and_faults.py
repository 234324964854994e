"""`troubleshooting` and `wiring-and-terminators` as solved by other hands from the printed text."""

from __future__ import annotations

import math
import re
from typing import Any

from course_draws import lab, scenarios

from labkit.doors.installed import check_for

DRAWS = 40
SEVERAL = re.compile(r"\bthe (?:[a-z]+ )+(?:sensors|valves)\b")
"""Drawn names that are plural."""


def texts(name: str, number: int) -> list[str]:
    """Every question and working of a draw, in one line each."""
    made = scenarios(name, DRAWS)[number]
    return [
        " ".join(prose.render(made.names).split())
        for each in lab(name).exercises
        for prose in (each.question, each.working)
    ]


def test_a_bad_contacts_resistance_is_asked_for_and_taken_to_a_tenth() -> None:
    """Volts with two figures tell no more: rounded as asked is right, up or to the nearest."""
    each = next(each for each in lab("troubleshooting").exercises if each.id == "bad-contact")
    check = check_for("quantity")
    for made in scenarios("troubleshooting", DRAWS):
        prepared, asked = made.prepare(each), each.question.render(made.names)
        assert "to a tenth of an ohm" in asked
        found: Any = re.search(r"draw ([\d.]+) A.*shows ([\d.]+) V", asked, re.DOTALL)
        ampere, volts = float(found[1]), float(found[2])
        ohm = volts / ampere
        for right in (f"{ohm:.1f}", f"{ohm:.2f}", f"{math.ceil(ohm * 10) / 10:.1f}"):
            verdict = check.check(prepared.ask, prepared.key, f"{right} Ω")
            assert verdict.right, (made.seed, right, verdict.message)
        for wrong in (volts * ampere, ampere / volts, ohm + 0.2, ohm - 0.2):
            assert not check.check(prepared.ask, prepared.key, f"{wrong:.1f} Ω").right


def test_no_sentence_says_it_or_is_of_several_sensors_or_valves() -> None:
    seen = 0
    for name in ("troubleshooting", "wiring-and-terminators"):
        for number in range(DRAWS):
            for text in texts(name, number):
                for there in SEVERAL.finditer(text):
                    seen += 1
                    said = text[max(0, there.start() - 10) : there.end() + 60]
                    assert not re.search(r"\b(right|left) of it\b|\bRed is\b", said), said
    assert seen > DRAWS


def test_two_conductors_that_touch_are_not_called_a_few_ohms() -> None:
    """On the longest lines the cable alone makes more than ten ohms of a touch."""
    name = "wiring-and-terminators"
    sheet = next(each for each in lab(name).exercises if each.id == "continuity-sheet")
    most = 0.0
    for made in scenarios(name, DRAWS):
        prepared = made.prepare(sheet)
        for row in prepared.ask["rows"]:
            for cell in (each["text"] for each in row[4:6]):
                found = re.fullmatch(r"([\d.]+) Ω", cell)
                most = max(most, float(found[1]) if found else 0.0)
        for key in prepared.key["cells"].values():
            assert all("few ohms" not in slip["tell"] for slip in key["slips"])
    assert most > 10


def test_whole_metres_of_a_reel_are_right_rounded_either_way() -> None:
    """A tenth of an ohm is two metres of thick cable: nobody can tell which metre it is."""
    name = "wiring-and-terminators"
    reel = next(each for each in lab(name).exercises if each.id == "reel")
    check = check_for("quantity")
    # Signal conductors, each: ODVA PUB00027R1.
    ohms_a_metre = {"thick": 0.0226, "thin": 0.0919}
    for made in scenarios(name, 4 * DRAWS):
        prepared, asked = made.prepare(reel), reel.question.render(made.names)
        found: Any = re.search(
            r"reel of (\w+) .*shows ([\d.]+) Ω.*have ([\d.]+) Ω", asked, re.DOTALL
        )
        loop = 2 * ohms_a_metre[found[1]]
        metres = (float(found[2]) - float(found[3])) / loop
        for right in (math.floor(metres), math.ceil(metres)):
            verdict = check.check(prepared.ask, prepared.key, f"{right} m")
            assert verdict.right, (made.seed, right, metres)
        for wrong in (float(found[2]) / loop, 2 * metres, metres / 2):
            assert not check.check(prepared.ask, prepared.key, f"{wrong:.0f} m").right
