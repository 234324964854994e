"""Whether what was drawn made an exercise harder for some than for others.

Chance alone decides which scenario a trainee gets, so if no drawn value matters, any trainee could
have had any other's scenario with the same marks. That is what the test does: scenarios are dealt
round among the trainees, whole, some two thousand times, and each time everything is worked out
again. The adjusted probability of an effect is the share of these rounds in which *any* effect of
the lab is as surprising as this one: the single-step "max T" method of P. H. Westfall and S. S.
Young, *Resampling-Based Multiple Testing* (Wiley, 1993). It supposes no distribution of the marks.

To see more clearly, an exercise's marks are first freed of what the trainee's other exercises
explain (a straight line, least squares): a value that came to the stronger by chance is then not
blamed for their marks. The whole lab is tested too, without this: it says whether a draw is fair.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

import numpy as np

from labkit.classroom.analysis.distributions import beta_share, f_tail
from labkit.classroom.analysis.table import Floats, MarkTable
from labkit.lab.definition import Listing, Parameter, Rows
from labkit.language.stream import Stream

ROUNDS: Final = 1_999
LEAST_ROUNDS: Final = 199
_MOST_DEALT: Final = 2_000_000
"""Scenarios dealt in all rounds together: a class of a thousand has all rounds, a larger fewer."""
_GRID: Final = 1_001
LEAST_TRAINEES: Final = 8
"""Below this nothing could be told even if it were plain (common sense, no source)."""


@dataclass(frozen=True, eq=False)
class Variant:
    """A drawn name as numbers: `columns` is (trainees, d), a numeric value as it is, a named choice
    as one 0/1 column for each of its values but the first; `labels` say what the columns are."""

    name: str
    columns: Floats
    labels: tuple[str, ...]
    first_label: str = ""


@dataclass(frozen=True, slots=True)
class Effect:
    """What one drawn name does to one exercise (`exercise` is "" for the whole lab).

    `change` is in shares of the marks: how much more the `easier` value earns than the `harder`
    one, which are the two ends of what was dealt, or the easiest and hardest choice. `probability`
    is that of the F test in least squares, `adjusted` that of the rounds, for all effects together.
    """

    parameter: str
    exercise: str
    title: str
    change: float
    easier: str
    harder: str
    probability: float
    adjusted: float


def variants_of(table: MarkTable) -> tuple[Variant, ...]:
    """The drawn names whose value differs between the trainees of a class."""
    names = [parameter.name for parameter in table.lab.parameters]
    # One scenario at a time: the class's together would take far more than what was drawn.
    drawn = [[got[name] for name in names] for got in (r.scenario.drawn for r in table.results)]
    columns = zip(*drawn, strict=True)
    found = [_variant(*pair) for pair in zip(table.lab.parameters, columns, strict=True)]
    return tuple(variant for variant in found if variant is not None)


def variant_effects(table: MarkTable) -> tuple[Effect, ...]:
    """All effects, the least likely first; none for a class of fewer than eight."""
    variants = variants_of(table)
    if table.trainees < LEAST_TRAINEES or not variants:
        return ()
    shares, abilities, names = _outcomes(table)
    tests = [
        (variant, column)
        for variant in variants
        for column in range(shares.shape[1])
        if _varies(residuals(shares[:, column], abilities[column]))
    ]
    rounds = max(LEAST_ROUNDS, min(ROUNDS, _MOST_DEALT // table.trainees))
    adjusted = dealt_round(
        [variant.columns for variant in variants],
        [residuals(shares[:, c], abilities[c]) for c in range(shares.shape[1])],
        rounds,
    )
    places = {variant.name: index for index, variant in enumerate(variants)}
    effects = []
    for variant, column in tests:
        exercise, title = names[column]
        change, easier, harder, probability = least_squares(
            shares[:, column], abilities[column], variant
        )
        among_all = float(adjusted[places[variant.name], column])
        effects.append(
            Effect(variant.name, exercise, title, change, easier, harder, probability, among_all)
        )
    return tuple(sorted(effects, key=lambda effect: (effect.adjusted, effect.probability)))


def residuals(shares: Floats, ability: Floats | None) -> Floats:
    """What is left of `shares` (trainees,) after a straight line in `ability`, or the mean."""
    centred: Floats = shares - shares.mean()
    if ability is None or not _varies(ability - ability.mean()):
        return centred
    line = ability - ability.mean()
    left: Floats = centred - line * (line @ centred) / (line @ line)
    return left


def dealt_round(variants: Sequence[Floats], left: Sequence[Floats], rounds: int = ROUNDS) -> Floats:
    """The adjusted probability of every variant on every column, shape (variants, columns).

    `variants` are arrays (trainees, d), `left` the columns' residuals (trainees,). The rounds are
    the same each time.
    """
    people = len(left[0])
    stream = Stream("dealt round")
    outcomes = np.stack([_unit(column) for column in left], axis=1)
    bases = [_basis(columns) for columns in variants]
    of_scale: dict[_Surprise, list[int]] = {}
    for place, basis in enumerate(bases):
        of_scale.setdefault(_surprise(basis.shape[1], people), []).append(place)
    stacks = {at: np.stack([bases[place].T for place in of_scale[at]]) for at in of_scale}

    def explained(outcomes: Floats) -> dict[_Surprise, Floats]:
        """By scale, what each of its variants explains of every column: (variants, columns)."""
        return {at: ((stack @ outcomes) ** 2).sum(axis=1) for at, stack in stacks.items()}

    def most(order: Sequence[int]) -> float:
        """The largest surprise, each variant's values dealt to the trainees in this order."""
        found = explained(outcomes[np.argsort(order)])
        return max(float(scale.of_shares(shares.max())) for scale, shares in found.items())

    seen = np.empty((len(bases), len(left)))
    for scale, shares in explained(outcomes).items():
        seen[of_scale[scale]] = scale.of_shares(shares)
    # A round is in memory at a time: in a large class all of them would fill it.
    largest = np.sort([seen.max(), *(most(stream.order(people)) for _ in range(rounds))])
    reached = largest.size - np.searchsorted(largest, seen, side="left")
    adjusted: Floats = reached / largest.size
    return adjusted


@dataclass(frozen=True, eq=False)
class _Surprise:
    """Shares of variation explained, 0 to 1, by some columns, on one scale for all.

    -ln of the probability that normal marks would have more explained, R² then following a beta
    distribution with added/2 and (n-1-added)/2. It only ranks: the rounds say how likely it is.
    """

    grid: Floats
    scale: Floats

    def of_shares(self, explained: Floats | float) -> Floats:
        """How surprising each share is, rounded, so that equal ones count as equal."""
        ranked: Floats = np.asarray(np.interp(explained, self.grid, self.scale)).round(9)
        return ranked


@lru_cache(maxsize=100)
def _surprise(added: int, people: int) -> _Surprise:
    """The scale for so many columns: most names have one, and a thousand shares take a while."""
    grid = np.linspace(0, 1, _GRID)
    spare = max(1, people - 1 - added)
    tail = [beta_share(spare / 2, added / 2, 1 - float(x)) for x in grid]
    return _Surprise(grid, -np.log(np.maximum(tail, 1e-300)))


def least_squares(
    shares: Floats, ability: Floats | None, variant: Variant
) -> tuple[float, str, str, float]:
    """The change, its easier and harder end, and the probability of the F test of two models.

    The full model has the ability and the variant's columns, the small one the ability alone:
    F = ((RSS_small - RSS_full) / d) / (RSS_full / (n - p)), p counting the full model's columns.
    """
    constant = np.ones((len(shares), 1))
    small = constant if ability is None else np.column_stack([constant, ability])
    full = np.column_stack([small, variant.columns])
    solution, _, rank, _ = np.linalg.lstsq(full, shares, rcond=None)
    _, _, rank_small, _ = np.linalg.lstsq(small, shares, rcond=None)
    rest = _squares(shares, full)
    gained = _squares(shares, small) - rest
    spare, added = len(shares) - int(rank), int(rank - rank_small)
    effects = solution[small.shape[1] :]
    change, easier, harder = _ends(variant, effects)
    if spare < 1 or added < 1 or gained <= 1e-12:
        return change, easier, harder, 1.0
    ratio = np.inf if rest <= 1e-12 else gained / added / (rest / spare)
    return change, easier, harder, f_tail(float(ratio), added, spare)


def _ends(variant: Variant, effects: Floats) -> tuple[float, str, str]:
    if not variant.first_label:
        low, high = float(variant.columns.min()), float(variant.columns.max())
        change = float(effects[0]) * (high - low)
        ends = (f"{high:.4g}", f"{low:.4g}")
        return abs(change), *(ends if change >= 0 else ends[::-1])
    levels = np.concatenate([[0.0], effects])
    labels = (variant.first_label, *variant.labels)
    best, worst = int(levels.argmax()), int(levels.argmin())
    return float(levels[best] - levels[worst]), labels[best], labels[worst]


def _squares(values: Floats, model: Floats) -> float:
    solution = np.linalg.lstsq(model, values, rcond=None)[0]
    return float(((values - model @ solution) ** 2).sum())


def _outcomes(
    table: MarkTable,
) -> tuple[Floats, list[Floats | None], list[tuple[str, str]]]:
    """Each exercise's shares beside the marks of the others, then the whole lab's."""
    totals, possible = table.totals, table.possible.sum()
    abilities: list[Floats | None] = [totals - column for column in table.earned.T]
    names = list(zip(table.exercises, table.titles, strict=True))
    shares = np.column_stack([table.shares, totals / possible])
    return shares, [*abilities, None], [*names, ("", "the whole lab")]


def _variant(parameter: Parameter, drawn: Sequence[Any]) -> Variant | None:
    values = list(drawn)
    if isinstance(parameter.choices, Rows):
        return None  # a row is no number, and has no order
    if any(isinstance(value, list) for value in values):
        # A drawn list of numbers counts by its sum (lengths, currents); a list of names does not.
        if not all(isinstance(x, int | float) for value in values for x in value):
            return None
        values = [sum(value) for value in values]
    different = sorted(set(values), key=lambda value: (isinstance(value, str), value))
    if len(different) < 2:
        return None
    if isinstance(parameter.choices, Listing) and parameter.count is None and len(different) <= 6:
        columns = np.array([[value == one for one in different[1:]] for value in values], float)
        labels = tuple(str(value) for value in different)
        return Variant(parameter.name, columns, labels[1:], labels[0])
    if any(isinstance(value, str) for value in values):
        return None
    return Variant(parameter.name, np.array(values, float)[:, None], (parameter.name,))


def _basis(columns: Floats) -> Floats:
    """An orthonormal basis of the columns about their means, (trainees, rank)."""
    left, lengths, _ = np.linalg.svd(columns - columns.mean(axis=0), full_matrices=False)
    kept: Floats = left[:, lengths > 1e-9 * max(1.0, float(lengths[0]))]
    return kept


def _unit(values: Floats) -> Floats:
    length = float(np.linalg.norm(values))
    return values / length if length > 1e-9 else np.zeros_like(values)


def _varies(centred: Floats) -> bool:
    return bool(np.linalg.norm(centred) > 1e-9)
