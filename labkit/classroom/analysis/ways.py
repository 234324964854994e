"""Ways of measuring that several of a class took: in which order, and never a single one's.

A way is a list of moves that at least `few` of them made in this order, perhaps with others in
between, so that a way that is shown is nobody's own. Who made a move is not asked, nor when.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

Moves = tuple[str, ...]
"""What one of them did, in order: each move once, as text that is equal where the moves are."""


@dataclass(frozen=True, slots=True)
class Path:
    """What somebody did, and whether they found the fault."""

    moves: Moves
    found: bool


@dataclass(frozen=True, slots=True)
class Way:
    """A way in words, its moves, and how many went it to its end."""

    words: str
    moves: Moves
    people: int


def ways_of(paths: Sequence[Path], few: int, most: int) -> list[Way]:
    """The way that most began with, another one, and the one of those who found it quickly.

    Each has at most so many moves, and each of its moves was made by at least `few`.
    """
    done = [path.moves for path in paths if path.moves]
    first = _begun(done, few, most)
    found = [Way("Many began so", *first)] if first else []
    if first:
        other = _begun([moves for moves in done if moves[0] != first[0][0]], few, most)
        found += [Way("Others began so", *other)] if other else []
    quick = _quick([path.moves for path in paths if path.moves and path.found], few)
    last = _common(quick, few, most)
    if last and not any(way.moves[: len(last[0])] == last[0] for way in found):
        found.append(Way("Who found it with few readings", *last))
    return found


def _begun(done: Sequence[Moves], few: int, most: int) -> tuple[Moves, int] | None:
    """The most common way among those that begin alike."""
    firsts = Counter(moves[0] for moves in done)
    if not firsts:
        return None
    first = min(firsts, key=lambda move: (-firsts[move], move))
    return _common([moves for moves in done if moves[0] == first], few, most)


def _quick(done: Sequence[Moves], few: int) -> list[Moves]:
    """The half with the fewest moves, as many as are needed to be no single one's."""
    if len(done) < few:
        return []
    shortest = sorted(map(len, done))
    limit = shortest[max(few, (len(done) + 1) // 2) - 1]
    return [moves for moves in done if len(moves) <= limit]


def _common(done: Sequence[Moves], few: int, most: int) -> tuple[Moves, int] | None:
    """Move after move, the one that most of those who came so far did next."""
    way: list[str] = []
    ahead, people = list(done), len(done)
    while len(way) < most:
        later = Counter(move for moves in ahead for move in moves)
        at_once = Counter(moves[0] for moves in ahead if moves)
        able = [move for move in later if later[move] >= few]
        if not able:
            break
        move = min(able, key=lambda one: (-at_once[one], -later[one], one))
        ahead = [moves[moves.index(move) + 1 :] for moves in ahead if move in moves]
        people = len(ahead)
        way.append(move)
    return (tuple(way), people) if way else None
