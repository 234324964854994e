"""Every lab that we ship: a sentence with a drawn name in it is right for "gate" and "gap sensors".

A device's name may be a plural, and a number may be one. So no sentence is built with such a name
before a verb or a possessive s.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from course_draws import NAMES, scenarios

from labkit.lab.definition import Exercise
from labkit.lab.draw import Scenario
from labkit.lab.kinds import check_for
from labkit.language.expression import Prose

DRAWS = 25
TOLD = 3
"""Draws whose known mistakes are made as well: working them out takes its time."""
_PLURAL = re.compile(r"[A-Za-z]+( [a-z]+)*[a-rt-z]s")
_VERBS = (
    "answers|asks|comes|does|draws|gets|goes|hangs|has|hears|is|loses|moves|needs|reads|runs|sends|"
    "shows|sits|stands|stays|stops|takes|tests|turns|waits|was|works"
)
_OTHER_SUBJECT = re.compile(r"\b(at|by|for|from|in|left of|of|on|right of|to|up to|with) (the )?$")
_ALWAYS_WRONG = {
    "a possessive after an s": re.compile(r"\w+s's\b"),
    "one of many": re.compile(
        r"(?<![\w.,·+−] )(?<![\d.,])\b1 (bits|bytes|devices|drops|frames|hours|metres|minutes|"
        r"nodes|seconds|taps|terminators|words)\b"
    ),
    "a before a vowel": re.compile(r"\ba (?!(and|as|at|in|is)\b)([aei]|o(?!n(ce|e)\b))[a-z]+"),
    "an before a consonant": re.compile(r"\b[Aa]n [bcdfgjkpqtvwxyz][a-z]+"),
    "two full stops": re.compile(r"(?<![.…])\.\.(?!\.)|\?\."),
}


@pytest.mark.parametrize("name", NAMES)
def test_sentences_are_right_for_names_in_the_plural_and_for_one(name: str) -> None:
    wrong = set()
    for number, scenario in enumerate(scenarios(name, DRAWS)):
        plurals = "|".join(sorted(map(re.escape, _plurals(scenario)), key=len, reverse=True))
        verbs = re.compile(rf"\b({plurals}) ({_VERBS})\b", re.IGNORECASE) if plurals else None
        for where, text in _texts(scenario, told=number < TOLD):
            words = " ".join(text.split())
            wrong |= {
                (where, what, found[0])
                for what, pattern in _ALWAYS_WRONG.items()
                for found in pattern.finditer(words)
            }
            for found in verbs.finditer(words) if verbs else ():
                if not _OTHER_SUBJECT.search(words[: found.start()]):
                    wrong.add((where, "a plural before a verb", found[0]))
    assert wrong == set()


def _texts(scenario: Scenario, *, told: bool) -> Iterator[tuple[str, str]]:
    """All that a trainee reads: (where, text)."""
    for part in scenario.lab.body:
        if isinstance(part, Prose):
            yield "prose", part.render(scenario.names)
        if not isinstance(part, Exercise):
            continue
        for each in (part.title, part.question, part.working, *(hint.text for hint in part.hints)):
            yield part.id, each.render(scenario.names)
        prepared = scenario.prepare(part)
        yield from ((part.id, text) for text in _strings([prepared.ask, prepared.key]))
        if not told:
            continue
        check, key = check_for(part.kind), prepared.key_as_needed
        for answer in check.slip_answers(prepared.ask, key).values():
            yield part.id, check.check(prepared.ask, key, answer).message


def _plurals(scenario: Scenario) -> set[str]:
    """Drawn names that may be a plural: small words of which the last ends in one s."""
    drawn = [scenario.names[parameter.name] for parameter in scenario.lab.parameters]
    return {text for text in _strings(drawn) if _PLURAL.fullmatch(text)}


def _strings(data: Any) -> Iterator[str]:
    if isinstance(data, str):
        yield data
    elif isinstance(data, dict):
        for value in data.values():
            yield from _strings(value)
    elif isinstance(data, list | tuple):
        for value in data:
            yield from _strings(value)
