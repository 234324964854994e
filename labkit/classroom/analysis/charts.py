"""The debrief's pictures as SVG text: they fetch nothing, print well, and say in words what they
show. Colour is never the only sign: position, shape and a number say the same."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from html import escape
from typing import Final

from labkit.classroom.analysis.effort import EffortFigures
from labkit.classroom.analysis.gain import Gain
from labkit.classroom.analysis.intervals import Interval
from labkit.classroom.analysis.items import ItemFigures

_BINS: Final = 10
_MOST_DOTS: Final = 14
_ROW: Final = 27
_LABEL_LETTERS: Final = 43
LEAST_LINES: Final = 5
"""Of fewer people no lines are drawn: who knows them would know whose line is whose."""


def score_chart(percents: Sequence[float], pass_mark: float | None = None) -> str:
    """How results (in %) are spread: a dot a trainee in ten bins, or bars for a large class."""
    counts = [0] * _BINS
    for percent in percents:
        counts[min(int(percent * _BINS / 100), _BINS - 1)] += 1
    top = max(counts, default=0)
    left, floor, step = 14, 172, 44
    parts = []
    for index, count in enumerate(counts):
        if not count:
            continue
        middle = left + step * (index + 0.5)
        if top <= _MOST_DOTS:
            gap = min(17, 140 / max(top, 1))
            dots = [floor - gap * (place + 0.5) for place in range(count)]
            size = min(7, gap * 0.42)
            parts += [
                f'<circle class="mark" cx="{middle:.1f}" cy="{y:.1f}" r="{size:.1f}"/>'
                for y in dots
            ]
            head = floor - gap * count
        else:
            height = 140 * count / top
            head = floor - height
            parts.append(
                f'<rect class="mark" x="{middle - 18:.1f}" y="{head:.1f}" width="36" '
                f'height="{height:.1f}"/>'
            )
        parts.append(_text(middle, head - 4, str(count), "middle"))
    for index in range(0, _BINS + 1, 2):
        parts.append(_text(left + step * index, floor + 18, f"{10 * index}", "middle soft"))
    parts.append(_text(left + step * _BINS + 24, floor + 18, "%", "soft"))
    parts.append(_line(left, floor, left + step * _BINS, floor, "axis"))
    words = [f"{10 * i} to {10 * i + 10} %: {count}." for i, count in enumerate(counts) if count]
    if pass_mark is not None:
        x = left + step * _BINS * pass_mark / 100
        parts.append(_line(x, 8, x, floor, "limit"))
        side = "end" if pass_mark > 50 else ""
        shift = -6 if side else 6
        parts.append(_text(x + shift, 16, f"pass mark {pass_mark:g} %", side))
        words.append(f"The pass mark is {pass_mark:g} %.")
    return _picture(490, 200, f"Trainees by result. {' '.join(words)}", parts)


def exercise_chart(items: Sequence[ItemFigures], effort: Sequence[EffortFigures]) -> str:
    """A row an exercise: marks earned, whether it tells strong from weak, and the time it took."""
    top, parts = 40, [
        _text(318, 14, "Marks earned, %", "strong"),
        _text(590, 14, "Tells strong from weak", "strong"),
        _text(800, 14, "Minutes, median", "strong"),
    ]  # fmt: skip
    bottom = top + _ROW * len(items)
    for percent in (0, 50, 100):
        x = _earned_x(percent / 100)
        parts += [_line(x, top - 8, x, bottom, "grid"), _text(x, 32, str(percent), "middle soft")]
    for value, word in ((-1, "−1"), (0, "0"), (1, "1")):
        x = _tells_x(value)
        kind = "axis" if value == 0 else "grid"
        parts += [_line(x, top - 8, x, bottom, kind), _text(x, 32, word, "middle soft")]
    longest = max((_longest(one) for one in effort), default=0.0) or 1.0
    parts.append(_line(800, top - 8, 800, bottom, "axis"))
    words = []
    for row, (item, time) in enumerate(zip(items, effort, strict=True)):
        y = top + _ROW * row + _ROW / 2
        parts += [
            _label(item, y),
            *_earned(item, y),
            *_tells(item, y),
            *_minutes(time, y, longest),
        ]
        words.append(_row_in_words(item, time))
    return _picture(1000, bottom + 6, " ".join(words), parts)


def pair_chart(gain: Gain) -> str:
    """A thin line for each person from their result before to that after, a thick one for the mean.

    Of fewer than five people the mean alone.
    """
    top, height, left, right = 30.0, 220.0, 70.0, 330.0

    def y(percent: float) -> float:
        return top + height * (1 - percent / 100)

    parts = []
    for percent in (0, 25, 50, 75, 100):
        parts.append(_line(left, y(percent), right, y(percent), "grid"))
        parts.append(_text(left - 40, y(percent) + 5, f"{percent}", "end soft"))
    parts.append(_text(left - 36, y(100) + 5, "%", "soft"))
    if len(gain.pairs) >= LEAST_LINES:
        parts += [_line(left, y(a), right, y(b), "pair") for a, b in gain.pairs]
    parts.append(_line(left, y(gain.before), right, y(gain.after), "mean"))
    for x, mean in ((left, gain.before), (right, gain.after)):
        parts.append(f'<circle class="mark" cx="{x}" cy="{y(mean):.1f}" r="7"/>')
    parts.append(_text(left, 16, "before", "middle strong"))
    parts.append(_text(right, 16, "after", "middle strong"))
    parts.append(_text(left - 12, y(gain.before) - 10, f"{gain.before:.0f}", "end strong"))
    parts.append(_text(right + 12, y(gain.after) + 5, f"{gain.after:.0f}", "strong"))
    words = (
        f"Mean before {gain.before:.0f} %, after {gain.after:.0f} %. {gain.better} did better, "
        f"{gain.same} the same, {gain.worse} worse."
    )
    return _picture(380, 264, words, parts)


def gain_chart(gain: Gain) -> str:
    """The mean gain in percentage points with its interval, beside 0: no gain."""
    interval = gain.interval or Interval(gain.gain, gain.gain)
    low = min(0, 10 * math.floor(interval.low / 10))
    high = max(10, 10 * math.ceil(interval.high / 10))
    step = 10 if high - low <= 60 else 20
    left, width, floor = 20, 340, 54

    def x(points: float) -> float:
        return left + width * (points - low) / (high - low)

    parts = [_line(left, floor, left + width, floor, "axis")]
    for points in range(step * math.ceil(low / step), high + 1, step):
        parts.append(_line(x(points), floor, x(points), floor + 5, "axis"))
        shown = f"{points:+d}".replace("-", "−") if points else "0"
        parts.append(_text(x(points), floor + 21, shown, "middle soft"))
    parts.append(_line(x(0), 8, x(0), floor, "limit"))
    if gain.interval:
        parts += _whisker(gain.interval, 30, x)
    parts.append(f'<circle class="mark" cx="{x(gain.gain):.1f}" cy="30" r="7"/>')
    reach = f", 95 % interval {interval.low:.0f} to {interval.high:.0f}" if gain.interval else ""
    return _picture(380, 80, f"Mean gain {gain.gain:.0f} percentage points{reach}.", parts)


def _earned_x(share: float) -> float:
    return 318 + 200 * share


def _tells_x(value: float) -> float:
    return 665 + 75 * value


def _label(item: ItemFigures, y: float) -> str:
    title = f"{item.number}. {item.title}"
    short = title if len(title) <= _LABEL_LETTERS else f"{title[: _LABEL_LETTERS - 1].rstrip()}…"
    return f"<g><title>{escape(title)}</title>{_text(0, y + 5, short, '')}</g>"


def _earned(item: ItemFigures, y: float) -> list[str]:
    x = _earned_x(item.difficulty)
    return [
        *_whisker(item.difficulty_range, y, _earned_x),
        f'<circle class="mark" cx="{x:.1f}" cy="{y:.1f}" r="6"/>',
        _text(562, y + 5, f"{100 * item.difficulty:.0f}", "end"),
    ]


def _tells(item: ItemFigures, y: float) -> list[str]:
    if item.discrimination is None:
        return [_text(_tells_x(0) + 8, y + 5, "cannot be told", "soft")]
    x = _tells_x(item.discrimination)
    whisker = [] if item.discrimination_range is None else [
        *_whisker(item.discrimination_range, y, _tells_x)
    ]  # fmt: skip
    # Above zero a diamond, below zero a hollow one: the shape says it too.
    kind = "mark" if item.discrimination >= 0 else "hollow"
    points = f"{x:.1f},{y - 7:.1f} {x + 7:.1f},{y:.1f} {x:.1f},{y + 7:.1f} {x - 7:.1f},{y:.1f}"
    return [*whisker, f'<polygon class="{kind}" points="{points}"/>']


def _minutes(time: EffortFigures, y: float, longest: float) -> list[str]:
    if time.median_minutes is None:
        return [_text(808, y + 5, "no times", "soft")]
    scale = 150 / longest
    width = time.median_minutes * scale
    parts = [f'<rect class="bar" x="800" y="{y - 7:.1f}" width="{width:.1f}" height="14"/>']
    end = 800 + width
    if time.middle_half:
        low, high = (800 + minutes * scale for minutes in time.middle_half)
        parts += _whisker(Interval(low, high), y, float)
        end = max(end, high)
    return [*parts, _text(end + 8, y + 5, f"{time.median_minutes:.1f}", "")]


def _longest(time: EffortFigures) -> float:
    return max(time.median_minutes or 0.0, *(time.middle_half or (0.0,)))


def _row_in_words(item: ItemFigures, time: EffortFigures) -> str:
    tells = "" if item.discrimination is None else f", correlation {item.discrimination:.2f}"
    minutes = "" if time.median_minutes is None else f", {time.median_minutes:.1f} minutes"
    return f"{item.number}, {item.title}: {100 * item.difficulty:.0f} % earned{tells}{minutes}."


def _whisker(interval: Interval, y: float, place: Callable[[float], float]) -> list[str]:
    low, high = place(interval.low), place(interval.high)
    return [
        _line(low, y, high, y, "range"),
        _line(low, y - 4, low, y + 4, "range"),
        _line(high, y - 4, high, y + 4, "range"),
    ]


def _line(x1: float, y1: float, x2: float, y2: float, kind: str) -> str:
    return f'<line class="{kind}" x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}"/>'


def _text(x: float, y: float, words: str, kind: str) -> str:
    return f'<text class="{kind}" x="{x:.1f}" y="{y:.1f}">{escape(words)}</text>'


def _picture(width: int, height: int, words: str, parts: Sequence[str]) -> str:
    return (
        f'<svg class="chart" viewBox="0 0 {width} {height}" role="img" '
        f'aria-label="{escape(words, quote=True)}">{"".join(parts)}</svg>'
    )
