"""How many did something, told so that nobody can be read out of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product

import pytest

from labkit.room.few import Told, told


def _counts(parts: int, total: int) -> Iterator[tuple[int, ...]]:
    every = product(range(total + 1), repeat=parts)
    return (counts for counts in every if sum(counts) == total)


def _fits(word: str, count: int) -> bool:
    """Whether a count may stand behind a word, read as it stands."""
    if word == "nobody":
        return count == 0
    if word == "fewer than 3":
        return count in (1, 2)
    number, more, _ = word.partition(" or more")
    return count >= int(number) if more else count == int(number)


def _words(counts: Sequence[int]) -> list[str] | None:
    parts = told(counts)
    return None if parts is None else [part.words for part in parts]


@pytest.mark.parametrize("parts", [2, 3, 4])
@pytest.mark.parametrize("total", [5, 6, 8, 11])
def test_no_one_or_two_can_be_worked_out_from_the_rest(parts: int, total: int) -> None:
    every = list(_counts(parts, total))
    for counts in every:
        words = _words(counts)
        if words is None:
            continue
        assert all(map(_fits, words, counts))
        fitting = [o for o in every if all(map(_fits, words, o))]
        for place, count in enumerate(counts):
            if 0 < count < 3:
                assert {other[place] for other in fitting} == {1, 2}, counts


@pytest.mark.parametrize("total", range(5, 20))
def test_of_two_parts_one_and_two_are_told_alike(total: int) -> None:
    # Also to whoever knows by which rule it is told.
    assert told([1, total - 1]) == told([2, total - 2])
    assert told([total - 1, 1]) == told([total - 2, 2])


def test_what_is_told() -> None:
    assert told([8, 0, 2, 4]) == [
        Told("8 or more", 8),
        Told("nobody", 0),
        Told("fewer than 3", 2),
        Told("4", 4),
    ]
    assert _words([13, 0, 0, 1]) == ["12 or more", "nobody", "nobody", "fewer than 3"]
    assert _words([14, 0]) == ["14", "nobody"]
    assert _words([3, 5, 6]) == ["3", "5", "6"]


@pytest.mark.parametrize("counts", [[0, 0], [4, 0], [2, 2], [3, 1], [2, 2, 2], [3, 1, 1]])
def test_of_few_nothing_is_told(counts: list[int]) -> None:
    assert told(counts) is None


@pytest.mark.parametrize("total", range(5, 15))
def test_what_is_drawn_is_the_whole_class(total: int) -> None:
    for counts in _counts(3, total):
        if parts := told(counts):
            assert sum(part.drawn for part in parts) == total
