"""Choosing a trainee's draw: as hard as the others', and unlike what neighbours and they had.

Candidates come from the class's secret, the lab, the trainee and the attempt alone; the first that
keeps the bounds is dealt. It is held against the workbooks that are dealt already, never the other
way round: who comes later changes nobody else's numbers.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Final

from labkit.classroom.dealing.fairness import (
    AnswerSheet,
    answer_sheet,
    difficulty_of,
    equal_answers,
)
from labkit.classroom.dealing.seeds import scenario_of, seed_of, workbook_id
from labkit.classroom.dealt import Bounds, Dealt
from labkit.classroom.errors import ClassError
from labkit.classroom.roster import Trainee
from labkit.exchange.clock import CLOCK
from labkit.lab.definition import Lab
from labkit.lab.draw import Scenario, find
from labkit.lab.marking_rules import keys_of

MAX_VARIANTS: Final = 600
MOST_COMPARED: Final = 60
"""Where labkit set the bound itself, the best of so many is dealt when none keeps it."""
_SHEETS_KEPT: Final = 256

Key = tuple[str, str, int]


@dataclass(frozen=True, slots=True)
class _Candidate:
    item: Dealt
    scenario: Scenario
    sheet: AnswerSheet

    @property
    def worst(self) -> int:
        return max((*self.item.equal, *self.item.equal_before), default=0)

    @property
    def rank(self) -> tuple[int, int]:
        """The lower the better; of equals the first one found is kept."""
        return self.worst, sum((*self.item.equal, *self.item.equal_before))


class Picker:
    """Picks draws one after the other, and remembers what was dealt."""

    def __init__(
        self,
        secret: str,
        class_id: str,
        labs: Mapping[str, Lab],
        bounds: Mapping[str, Bounds],
        beside: Mapping[str, tuple[str, ...]],
        dealt: Iterable[Dealt],
        *,
        strict: bool,
    ) -> None:
        """`beside` are everybody's neighbours; `strict`: the bound on equal answers is a must."""
        self._secret, self._class_id = secret, class_id
        self._labs, self._bounds, self._beside = labs, bounds, beside
        self._strict = strict
        self.dealt: dict[Key, Dealt] = {}
        self._taken: set[tuple[str, str]] = set()
        self._sheets: OrderedDict[Key, AnswerSheet] = OrderedDict()
        for item in dealt:
            self._keep(item)

    def again(self, item: Dealt) -> Scenario:
        """The scenario of what was dealt before. Raises `ClassError` if it came out another."""
        return scenario_of(self._secret, self._class_id, self._labs[item.lab], item)

    def pick(self, trainee: Trainee, lab: Lab, attempt: int) -> tuple[Dealt, Scenario]:
        """The draw for one more workbook. Raises `ClassError` when the lab has too few."""
        bounds = self._bounds[lab.id]
        others = [(other, lab.id, attempt) for other in self._beside.get(trainee.id, ())]
        sheets = [self._sheet(key) for key in others if key in self.dealt]
        before = [
            self._sheet(key)
            for number in range(1, attempt)
            if (key := (trainee.id, lab.id, number)) in self.dealt
        ]
        best: _Candidate | None = None
        unused = compared = 0
        for variant in range(MAX_VARIANTS):
            scenario = self._found(lab, trainee.id, variant, attempt)
            if (lab.id, scenario.fingerprint) in self._taken:
                continue
            unused += 1
            hard = difficulty_of(scenario)
            if not bounds.takes(hard):
                continue
            scenario.work_out()
            found = self._candidate(trainee, attempt, variant, scenario, hard, (sheets, before))
            compared += 1
            if best is None or found.rank < best.rank:
                best = found
            if best.worst <= bounds.equal or (compared >= MOST_COMPARED and not self._strict):
                break
        if best is None:
            raise _too_few(lab, bounds, unused)
        if self._strict and best.worst > bounds.equal:
            raise ClassError(
                f"No draw of '{lab.id}' for {trainee.name} ({trainee.id}) has {bounds.equal} or "
                f"fewer answers in common with those beside them; the best has {best.worst}. "
                f"Write 'neighbours_equal: {best.worst}' in class.yaml, or seat them apart."
            )
        item = replace(best.item, keys=keys_of(best.scenario))
        self._keep(item)
        self._remember(item.key, best.sheet)
        return item, best.scenario

    def _candidate(
        self,
        trainee: Trainee,
        attempt: int,
        variant: int,
        scenario: Scenario,
        hard: float | None,
        others: tuple[list[AnswerSheet], list[AnswerSheet]],
    ) -> _Candidate:
        lab = scenario.lab
        sheet = answer_sheet(scenario, self._bounds[lab.id].copyable)
        beside, before = (tuple(equal_answers(sheet, one) for one in part) for part in others)
        item = Dealt(
            trainee.id,
            trainee.name,
            lab.id,
            variant,
            scenario.tries,
            workbook_id(self._secret, self._class_id, lab.id, trainee.id, attempt),
            scenario.fingerprint,
            attempt,
            hard,
            beside,
            before,
            dealt_at=CLOCK.now(),
        )
        return _Candidate(item, scenario, sheet)

    def _found(self, lab: Lab, trainee: str, variant: int, attempt: int) -> Scenario:
        return find(lab, seed_of(self._secret, self._class_id, lab.id, trainee, variant, attempt))

    def _keep(self, item: Dealt) -> None:
        self.dealt[item.key] = item
        self._taken.add((item.lab, item.fingerprint))

    def _sheet(self, key: Key) -> AnswerSheet:
        if key not in self._sheets:
            item = self.dealt[key]
            scenario = self.again(item)
            self._remember(key, answer_sheet(scenario, self._bounds[item.lab].copyable))
        self._sheets.move_to_end(key)
        return self._sheets[key]

    def _remember(self, key: Key, sheet: AnswerSheet) -> None:
        self._sheets[key] = sheet
        if len(self._sheets) > _SHEETS_KEPT:
            self._sheets.popitem(last=False)


def _too_few(lab: Lab, bounds: Bounds, unused: int) -> ClassError:
    if unused and bounds.low is not None and bounds.high is not None:
        return ClassError(
            f"The lab '{lab.id}' has too few different scenarios of a difficulty from "
            f"{bounds.low:g} to {bounds.high:g} for this class: allow a wider 'difficulty_spread' "
            "in class.yaml before the first deal, or widen what the lab draws."
        )
    return ClassError(
        f"The lab '{lab.id}' has too few different scenarios for this class: widen what it draws."
    )
