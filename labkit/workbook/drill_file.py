"""The drills that go with a practice workbook: see `exchange.drill_file` for what is in the file.

They are the same for all workbooks of a lab, so they are drawn once for a class.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache
from itertools import count
from typing import Final

import orjson

from labkit.exchange.drill_file import DrillFile, FileDraw, FileDrill, draws_digest
from labkit.exchange.formats import DRILLS_FORMAT, DRILLS_VERSION
from labkit.lab.definition import Exercise, Lab, Picture
from labkit.lab.draw import Scenario, draw
from labkit.language.cautions import is_caution
from labkit.language.problems import DefinitionError
from labkit.workbook.drills import drill_data

DRAWS: Final = 3
"""So many draws lie in a file: each exercise can be asked so many times more."""
_MOST_LOOKED_AT: Final = 8
_SEED: Final = "warm-up-{}"


def drill_bytes(lab: Lab) -> bytes:
    """The file of a lab, drawn once in a process."""
    return _bytes_of(_Edition(lab))


@dataclass(frozen=True, eq=False)
class _Edition:
    """A lab that is known by its digest."""

    lab: Lab

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Edition) and self.lab.digest == other.lab.digest

    def __hash__(self) -> int:
        return hash(self.lab.digest)


@lru_cache(maxsize=16)
def _bytes_of(edition: _Edition) -> bytes:
    return orjson.dumps(drill_file(edition.lab))


def drill_file(lab: Lab) -> DrillFile:
    """What the file of a lab holds. A draw in which a formula has no value is passed over."""
    drawn: dict[str, Scenario] = {}
    for number in range(1, _MOST_LOOKED_AT + 1):
        try:
            drawn[_SEED.format(number)] = draw(lab, _SEED.format(number))
        except DefinitionError:
            continue
        if len(drawn) == DRAWS:
            break
    written = {name: _texts(scenario) for name, scenario in drawn.items()}
    alike = [len(set(each)) == 1 < len(drawn) for each in zip(*written.values(), strict=True)]
    draws = [_draw(name, drawn[name], written[name], alike) for name in drawn]
    return {
        "format": DRILLS_FORMAT,
        "format_version": DRILLS_VERSION,
        "lab": lab.digest,
        "sha256": draws_digest(draws),
        "draws": draws,
    }


def _texts(scenario: Scenario) -> list[str]:
    """Each part of the body as text; "" where it is an exercise or the picture."""
    return [
        "" if isinstance(part, Exercise | Picture) else part.render(scenario.names)
        for part in scenario.lab.body
    ]


def _draw(name: str, scenario: Scenario, written: list[str], alike: list[bool]) -> FileDraw:
    recipe, numbers = scenario.lab.network, count(1)
    texts: list[str] = []
    cautions: list[str] = []
    drills: list[FileDrill] = []
    for part, text, same in zip(scenario.lab.body, written, alike, strict=True):
        if isinstance(part, Exercise):
            with suppress(DefinitionError):
                drill = drill_data(scenario, part, next(numbers))
                drills.append({"exercise": drill, "texts": len(texts), "cautions": len(cautions)})
            continue
        blocks = text.split("\n\n")
        cautions += filter(is_caution, blocks)
        # What is the same in all draws stands in the workbook itself.
        rest = "" if same else "\n\n".join(each for each in blocks if not is_caution(each))
        texts += [rest] if rest.strip() else []
    return {
        "draw": name,
        "picture": recipe.draw(scenario.network, narrow=True) if recipe else "",
        "texts": texts,
        "cautions": cautions,
        "drills": drills,
    }
