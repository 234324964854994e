"""How far a total can be trusted: what another lab of the same kind would have shown."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from labkit.classroom.analysis.distributions import f_quantile
from labkit.classroom.analysis.intervals import CONFIDENCE, Interval
from labkit.classroom.analysis.table import Flags, Floats, MarkTable


@dataclass(frozen=True, slots=True)
class Reliability:
    """`alpha` of the marks with its 95 % interval, `kr20` of right or not, and in marks the
    standard error of a total. None where the class or the lab is too small, or all totals are
    alike."""

    trainees: int
    exercises: int
    alpha: float | None
    alpha_range: Interval | None
    kr20: float | None
    standard_error: float | None


def reliability(table: MarkTable) -> Reliability:
    """The reliability of a lab's total marks in this class."""
    alpha = cronbach_alpha(table.earned)
    trainees, exercises = table.earned.shape
    return Reliability(
        trainees=trainees,
        exercises=exercises,
        alpha=alpha,
        alpha_range=None if alpha is None else feldt_interval(alpha, trainees, exercises),
        kr20=kuder_richardson_20(table.right),
        standard_error=None if alpha is None else standard_error(table.earned, alpha),
    )


def cronbach_alpha(marks: Floats) -> float | None:
    """α = k/(k-1) · (1 - Σ s_i² / s_T²), marks of shape (trainees, exercises).

    L. J. Cronbach, "Coefficient alpha and the internal structure of tests", Psychometrika 16 (1951)
    297-334. None for fewer than two exercises or three trainees, or when all totals are alike.
    """
    trainees, exercises = marks.shape
    if exercises < 2 or trainees < 3:
        return None
    of_total = float(marks.sum(axis=1).var(ddof=1))
    of_exercises = math.fsum(float(value) for value in marks.var(axis=0, ddof=1))
    if of_total <= 1e-12 * (1 + of_exercises):
        return None
    return alpha_from_variances(exercises, of_exercises, of_total)


def alpha_from_variances(exercises: int, sum_of_variances: float, total_variance: float) -> float:
    """Cronbach's α from the exercises' variances added up, and the variance of the totals."""
    return exercises / (exercises - 1) * (1 - sum_of_variances / total_variance)


def kuder_richardson_20(right: Flags) -> float | None:
    """k/(k-1) · (1 - Σ p q / s_T²) with s_T² the mean squared deviation of the number right.

    G. F. Kuder and M. W. Richardson, "The theory of the estimation of test reliability",
    Psychometrika 2 (1937) 151-160, formula 20. None as with `cronbach_alpha`.
    """
    trainees, exercises = right.shape
    totals = right.sum(axis=1)
    variance = float(totals.var())
    if exercises < 2 or trainees < 3 or variance == 0:
        return None
    p = right.mean(axis=0)
    return alpha_from_variances(exercises, math.fsum(float(x) for x in p * (1 - p)), variance)


def feldt_interval(
    alpha: float, trainees: int, exercises: int, confidence: float = CONFIDENCE
) -> Interval | None:
    """The interval of α: (1-α)/(1-α̂) follows F with (n-1), (n-1)(k-1) degrees of freedom inverted.

    L. S. Feldt, "The approximate sampling distribution of Kuder-Richardson reliability coefficient
    twenty", Psychometrika 30 (1965) 357-370: from 1 - (1-α̂) F(1-γ/2) to 1 - (1-α̂) F(γ/2). It
    supposes nearly normal marks; for a short lab it is a guide, not a proof.
    """
    if trainees < 3 or exercises < 2:
        return None
    few, many = trainees - 1, (trainees - 1) * (exercises - 1)
    outside = (1 - confidence) / 2
    return Interval(
        1 - (1 - alpha) * f_quantile(1 - outside, few, many),
        1 - (1 - alpha) * f_quantile(outside, few, many),
    )


def standard_error(marks: Floats, alpha: float) -> float:
    """The standard error of measurement of a total, in marks: s_T · √(1 - α).

    A negative α counts as 0: a total cannot be more uncertain than totals differ.
    """
    spread = float(np.std(marks.sum(axis=1), ddof=1))
    return spread * math.sqrt(1 - max(0.0, alpha))
