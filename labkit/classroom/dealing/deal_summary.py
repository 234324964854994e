"""What a deal reached, in sentences for the instructor: how hard, how alike beside each other."""

from __future__ import annotations

import math
from collections.abc import Iterator

from labkit.classroom.dealt import Bounds, Deal, Dealt


def deal_summary(deal: Deal) -> Iterator[str]:
    """Sentences for each lab of the class; none for workbooks that older versions dealt."""
    for lab, bounds in deal.bounds.items():
        items = [item for item in deal.dealt if item.lab == lab]
        yield from _difficulty(lab, bounds, items)
        yield from _neighbours(lab, bounds, items)
        yield from _retakes(lab, bounds, items)


def _difficulty(lab: str, bounds: Bounds, items: list[Dealt]) -> Iterator[str]:
    found = [item.difficulty for item in items if item.difficulty is not None]
    if not found or bounds.low is None or bounds.high is None:
        return
    low, high = min(found), max(found)
    yield (
        f"{lab}: difficulty {low:.3g} to {high:.3g}, a spread of {high - low:.2g} over "
        f"{len(found)} workbook(s); up to {bounds.high - bounds.low:.2g} is allowed."
    )


def _neighbours(lab: str, bounds: Bounds, items: list[Dealt]) -> Iterator[str]:
    counts = [count for item in items for count in item.equal]
    if not counts:
        return
    over = sum(count > bounds.equal for count in counts)
    same = (
        f" ({', '.join(bounds.always)}: in every draw the same right answer)"
        if bounds.always
        else ""
    )
    yield (
        f"{lab}: {_figures(counts)} of {len(bounds.copyable)} answers equal between neighbours "
        f"({len(counts)} pair(s)); up to {bounds.equal} are allowed{same}."
    )
    if over:
        yield (
            f"{lab}: {over} pair(s) of neighbours have more equal answers than that, because no "
            "better draw was found: seat them apart, or let the lab draw more."
        )


def _retakes(lab: str, bounds: Bounds, items: list[Dealt]) -> Iterator[str]:
    counts = [count for item in items for count in item.equal_before]
    if counts:
        yield (
            f"{lab}: {_figures(counts)} of {len(bounds.copyable)} answers equal between a retake "
            "and an earlier attempt."
        )


def _figures(counts: list[int]) -> str:
    mean = math.fsum(counts) / len(counts)
    return f"at most {max(counts)}, {mean:.1f} on average,"
