"""Everything that the pages say of one lab in one class, worked out once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from labkit.classroom.analysis.copied import CopiedNumbers, CopiedSearch, copied_numbers
from labkit.classroom.analysis.effort import EffortFigures, effort_figures, median_minutes, times
from labkit.classroom.analysis.items import ItemFigures, item_figures
from labkit.classroom.analysis.misunderstood import SlipRank, rank_slips
from labkit.classroom.analysis.options_taken import OptionsTaken, options_taken
from labkit.classroom.analysis.reliability import Reliability, reliability
from labkit.classroom.analysis.shared_slips import SharedMistakes, mistakes, shared_mistakes
from labkit.classroom.analysis.table import MarkTable, mark_tables
from labkit.classroom.analysis.variants import Effect, variant_effects
from labkit.classroom.progress import Progress
from labkit.classroom.result import Result, worked_together
from labkit.classroom.share import Share
from labkit.lab.definition import Lab

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
    options: tuple[OptionsTaken, ...]
    effort: tuple[EffortFigures, ...]
    pauses: int
    median_minutes: float | None
    shared: tuple[SharedMistakes, ...]
    copied: CopiedSearch
    effects: tuple[Effect, ...]

    @property
    def percents(self) -> list[float]:
        """The result of everybody who has a mark, in % of the marks that are given."""
        return [result.percent for result in self.table.results if result.percent is not None]

    @property
    def waits(self) -> str:
        """The marks of all hand-ins that wait for a person, in words; "" when none does."""
        return Share.total(result.share for result in self.table.results).waits

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


def analyse(
    labs: Mapping[str, Lab],
    results: Collection[Result],
    beside: Mapping[str, Sequence[str]],
    progress: Progress | None = None,
) -> tuple[LabAnalysis, ...]:
    """The analysis of every lab that somebody handed in.

    `beside` has everybody's neighbours by id; `progress` is called with (done, all).
    """
    slips, options = rank_slips(results), options_taken(results)
    dealt = Counter(result.dealt.lab for result in results)
    return tuple(
        _of_lab(table, dealt[table.lab.id], slips, options, beside, progress)
        for table in mark_tables(labs, results)
    )


def _of_lab(
    table: MarkTable,
    dealt: int,
    slips: Sequence[SlipRank],
    options: Sequence[OptionsTaken],
    beside: Mapping[str, Sequence[str]],
    progress: Progress | None,
) -> LabAnalysis:
    spent = times(table)
    return LabAnalysis(
        table=table,
        dealt=dealt,
        items=item_figures(table),
        reliability=reliability(table),
        slips=tuple(slip for slip in slips if slip.lab == table.lab.id),
        options=tuple(
            taken
            for taken in options
            if taken.lab == table.lab.id and taken.exercise in table.exercises
        ),
        effort=effort_figures(table, spent),
        pauses=sum(one.pauses for one in spent),
        median_minutes=median_minutes(spent),
        shared=tuple(
            pair
            for pair in shared_mistakes(mistakes(table), ALIKE_LEVEL)
            if not worked_together(table.results[pair.first], table.results[pair.second])
        ),
        copied=copied_numbers(table, progress, beside),
        effects=variant_effects(table),
    )
