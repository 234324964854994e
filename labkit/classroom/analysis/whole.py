"""Everything that the pages say of one lab in one class, worked out once."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import median
from typing import Final

from labkit.classroom.analysis.copied import CopiedNumbers, CopiedSearch, copied_numbers
from labkit.classroom.analysis.effort import EffortFigures, effort_figures, pauses, time_spent
from labkit.classroom.analysis.items import ItemFigures, item_figures
from labkit.classroom.analysis.misunderstood import ChoiceUse, SlipRank, choice_use, rank_slips
from labkit.classroom.analysis.reliability import Reliability, reliability
from labkit.classroom.analysis.shared_slips import SharedMistakes, mistakes, shared_mistakes
from labkit.classroom.analysis.table import MarkTable, mark_tables
from labkit.classroom.analysis.variants import Effect, variant_effects
from labkit.classroom.progress import Progress
from labkit.classroom.scoring import Scoring

ALIKE_LEVEL: Final = 0.025
"""Each of the two looks at alike hand-ins may be wrong about a class with this probability, so that
both together are in at most one of twenty."""
EFFECT_LEVEL: Final = 0.05


@dataclass(frozen=True, eq=False)
class LabAnalysis:
    """The figures of one lab. Times are in minutes; `dealt` counts those who were dealt it."""

    table: MarkTable
    dealt: int
    items: tuple[ItemFigures, ...]
    reliability: Reliability
    slips: tuple[SlipRank, ...]
    choices: tuple[ChoiceUse, ...]
    effort: tuple[EffortFigures, ...]
    pauses: int
    median_minutes: float | None
    shared: tuple[SharedMistakes, ...]
    copied: CopiedSearch
    effects: tuple[Effect, ...]

    @property
    def percents(self) -> list[float]:
        """Everybody's result in % of the lab's marks."""
        return [result.percent for result in self.table.results]

    @property
    def more_alike(self) -> tuple[SharedMistakes, ...]:
        """The pairs that share more mistakes than chance allows."""
        return tuple(pair for pair in self.shared if pair.adjusted <= ALIKE_LEVEL)

    @property
    def more_copied(self) -> tuple[CopiedNumbers, ...]:
        """The pairs with more of the other's right answers than chance allows."""
        return tuple(pair for pair in self.copied.pairs if pair.expected <= ALIKE_LEVEL)

    @property
    def plain_effects(self) -> tuple[Effect, ...]:
        """What the draw did to the marks beyond chance."""
        return tuple(effect for effect in self.effects if effect.adjusted <= EFFECT_LEVEL)


def analyse(scoring: Scoring, progress: Progress | None = None) -> tuple[LabAnalysis, ...]:
    """The analysis of every lab that somebody handed in. `progress` is called with (done, all)."""
    slips, choices = rank_slips(scoring), choice_use(scoring)
    return tuple(
        LabAnalysis(
            table=table,
            dealt=sum(result.dealt.lab == table.lab.id for result in scoring.results),
            items=item_figures(table),
            reliability=reliability(table),
            slips=tuple(slip for slip in slips if slip.lab == table.lab.id),
            choices=tuple(choice for choice in choices if choice.lab == table.lab.id),
            effort=effort_figures(table),
            pauses=pauses(table),
            median_minutes=_median_minutes(table),
            shared=tuple(shared_mistakes(mistakes(table))),
            copied=copied_numbers(table, progress),
            effects=variant_effects(table),
        )
        for table in mark_tables(scoring)
    )


def _median_minutes(table: MarkTable) -> float | None:
    """The median over the class of the time that a trainee's exercises took together."""
    spent = [time_spent(r.hand_in.journal).seconds for r in table.results if r.hand_in]
    minutes = [sum(seconds.values()) / 60 for seconds in spent if seconds]
    return median(minutes) if minutes else None
