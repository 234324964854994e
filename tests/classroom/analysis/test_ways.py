"""Ways of measuring: what several did in one order, and never what one did alone."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from labkit.classroom.analysis.ways import Path, ways_of

FEW, LONGEST = 3, 6


def paths(*moves: str, found: bool = False) -> list[Path]:
    return [Path(tuple(each), found) for each in moves]


def in_order(way: tuple[str, ...], done: tuple[str, ...]) -> bool:
    ahead = iter(done)
    return all(move in ahead for move in way)


def test_what_most_began_with_comes_first_and_then_how_others_began() -> None:
    done = paths("abc", "abc", "abxc", "abd", "bac", "bac", "bca")
    first, other = ways_of(done, FEW, LONGEST)
    assert (first.words, first.moves, first.people) == ("Many began so", ("a", "b", "c"), 3)
    # Of the three who began with b all came to a or to c, but only two did so in one order.
    assert (other.words, other.moves, other.people) == ("Others began so", ("b", "a"), 3)


def test_who_found_it_with_few_readings_is_the_quicker_half_and_at_least_three() -> None:
    others = paths("abcdef", "abcdef", "abcdef", "abcdef", "bacdef", "bacdef", "bacdef", "bacdef")
    slow = paths("cdefab", "cdefab", "cdefab", found=True)
    quick = paths("cgh", "cgh", "cgh", found=True)
    third = ways_of([*others, *slow, *quick], FEW, LONGEST)[2]
    assert (third.words, third.moves) == ("Who found it with few readings", ("c", "g", "h"))
    # Of four who found it the quicker two are too few: a third one counts with them.
    assert len(ways_of([*others, *slow[:2], *quick[:2]], FEW, LONGEST)[2].moves) == 1
    # What is shown already is not shown again.
    assert len(ways_of([*others, *paths("abcdef", "abc", "abc", found=True)], FEW, LONGEST)) == 2


def test_of_two_who_found_it_nothing_is_told() -> None:
    done = [*paths("ab", "ab", "ab"), *paths("xy", "xy", found=True)]
    assert [way.moves for way in ways_of(done, FEW, LONGEST)] == [("a", "b")]


def test_of_equally_many_the_same_one_comes_first_whoever_comes_first() -> None:
    done = paths("ab", "ab", "ab", "cd", "cd", "cd")
    assert ways_of(done, FEW, LONGEST) == ways_of(done[::-1], FEW, LONGEST)


def test_where_all_began_differently_there_is_no_way() -> None:
    assert ways_of(paths("ab", "cd", "ef", "gh", "ij"), FEW, LONGEST) == []
    assert ways_of([], FEW, LONGEST) == []


@given(
    st.lists(
        st.tuples(st.lists(st.sampled_from("abcdef"), unique=True, max_size=6), st.booleans()),
        max_size=9,
    ),
    st.randoms(use_true_random=False),
)
def test_each_way_was_gone_by_three_and_the_order_of_people_tells_nothing(
    drawn: list[tuple[list[str], bool]], chance: object
) -> None:
    done = [Path(tuple(moves), found) for moves, found in drawn]
    ways = ways_of(done, FEW, LONGEST)
    for way in ways:
        assert 0 < len(way.moves) <= LONGEST
        assert FEW <= way.people <= sum(in_order(way.moves, path.moves) for path in done)
    chance.shuffle(done)  # type: ignore[attr-defined]
    assert ways_of(done, FEW, LONGEST) == ways
