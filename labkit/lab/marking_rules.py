"""By which rules answers are marked, and what decides the marks of one workbook.

A class keeps its marks: what it was dealt and marked by is remembered, so that a later labkit, or a
later release of a package with kinds of its own, marks nothing of it otherwise without a word.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from hashlib import sha256
from typing import Any, Final

from labkit.doors import installed
from labkit.doors.prepared import Prepared
from labkit.lab.definition import Lab
from labkit.lab.draw import Scenario

RULES: Final = 2
"""Raised whenever this labkit would mark some answer to an existing lab otherwise than before.

`tests/lab/test_marking_rules.py` notices a change that forgot it.
"""


def rules_of(lab: Lab) -> str:
    """The rules that mark a lab here: our own number, and the packages that its kinds come from."""
    makers = [installed.package_of_kind(exercise.kind) for exercise in lab.exercises]
    if lab.network:
        makers.append(installed.package_of_family_module(type(lab.network).__module__))
    return " ".join([str(RULES), *sorted({maker for maker in makers if maker})])


def key_digest(prepared: Iterable[Prepared]) -> str:
    """What decides the marks of a workbook's exercises, as sixteen hexadecimal digits.

    Numbers count with nine digits: the last ones are not the same on every machine. What only the
    explanation of a wrong answer needs is left out, and so is how something is drawn.
    """
    decides = [_rounded([one.early_ask, one.early_key]) for one in prepared]
    return sha256(json.dumps(decides, sort_keys=True).encode()).hexdigest()[:16]


def keys_of(scenario: Scenario) -> str:
    """The key digest of all exercises of a scenario."""
    return key_digest(scenario.prepare(exercise) for exercise in scenario.lab.exercises)


def _rounded(value: Any) -> Any:
    if isinstance(value, float):
        return f"{value:.9g}"
    if isinstance(value, dict):
        return {str(name): _rounded(part) for name, part in value.items()}
    return [_rounded(part) for part in value] if isinstance(value, list | tuple) else value
