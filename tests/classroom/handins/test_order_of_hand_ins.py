"""The order of several hand-ins follows from their journals; names and arrival decide nothing."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from labkit.classroom.handins.choosing import Policy, Receipt, attempts_before, choose
from labkit.classroom.handins.clocks import JournalFacts

TIMES = [f"2026-11-20T1{hour}:00:00Z" for hour in range(5)]
WORKS = st.lists(st.sampled_from("abc"), max_size=4)


def receipt(number: int, work: list[str], made_at: str, received_at: str, known: bool) -> Receipt:
    journal = [{"event": "answer", "exercise": "x", "answer": part} for part in work]
    return Receipt(
        digest=f"{number:064x}",
        file=f"file-{number}",
        workbook="w",
        outcome="whole",
        sentence="",
        made_at=made_at,
        received_at=received_at,
        entries=len(work),
        unreadable=0,
        answers="/".join(work),
        journal=JournalFacts.of(journal) if known else None,
    )


@st.composite
def hand_ins(draw: st.DrawFn) -> list[Receipt]:
    """Hand-ins whose journals often go on from one another; some of 0.1, without a journal; some
    the same hand-in as another, written anew."""
    stem = draw(WORKS)
    found: list[Receipt] = []
    for number in range(draw(st.integers(1, 6))):
        made_at, received_at = draw(st.sampled_from(TIMES)), draw(st.sampled_from(TIMES))
        work = stem[: draw(st.integers(0, 4))] + draw(st.just([]) | WORKS)
        known = draw(st.integers(0, 4)) > 0
        made = receipt(number, work, made_at, received_at, known)
        again: bool = draw(st.booleans()) if found else False
        if again:
            same = draw(st.sampled_from(found))
            made = replace(same, digest=made.digest, file=made.file, received_at=received_at)
        found.append(made)
    return found


POLICIES = st.builds(
    Policy,
    deadline=st.sampled_from([None, *TIMES]),
    refuse_late=st.booleans(),
    attempts=st.none() | st.integers(1, 3),
    spoken=st.just(str),
    by_receipt=st.booleans(),
)


@given(hand_ins(), POLICIES, st.data())
def test_neither_names_nor_the_order_of_arrival_decide(
    found: list[Receipt], policy: Policy, data: st.DataObject
) -> None:
    names = data.draw(st.permutations([item.file for item in found]))
    other = [replace(item, file=name) for item, name in zip(found, names, strict=True)]
    other = data.draw(st.permutations(other))
    one, another = (choose(items, policy)[0] for items in (found, other))
    assert (one and one.digest) == (another and another.digest)
    assert attempts_before([found, []]) == attempts_before([other, []])


@given(hand_ins(), st.data())
def test_of_journals_that_go_on_from_one_another_the_longest_counts(
    found: list[Receipt], data: st.DataObject
) -> None:
    policy = Policy(None, False, None, str)
    counted, _ = choose(data.draw(st.permutations(found)), policy)
    assert counted
    assert not any(item.continues(counted) for item in found)


@given(WORKS, WORKS)
def test_a_journal_continues_another_that_it_begins_with(one: list[str], two: list[str]) -> None:
    first, second = (
        receipt(number, work, TIMES[0], TIMES[0], True) for number, work in enumerate((one, two))
    )
    assert second.continues(first) == (len(two) > len(one) and two[: len(one)] == one)


@given(hand_ins(), POLICIES)
def test_without_journals_the_claims_decide_as_in_version_0_1(
    found: list[Receipt], policy: Policy
) -> None:
    blind = [replace(item, journal=None) for item in found]
    made = [item.made_at for item in blind]
    counted, _ = choose(blind, Policy(None, False, policy.attempts and 1000, str))
    assert counted
    assert counted.made_at == max(made)
