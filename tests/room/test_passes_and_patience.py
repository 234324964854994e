"""What a browser holds to show who sits there; and what guessing costs."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from labkit.room.passes import Passes
from labkit.room.patience import Patience


@given(st.text(max_size=64), st.integers(0, 10**6))
def test_a_pass_says_what_it_was_made_of(trainee: str, number: int) -> None:
    passes = Passes("secret", "seat")
    assert passes.read(passes.made(trainee, number)) == [trainee, number]


@given(st.text(max_size=200) | st.none())
def test_what_nobody_signed_is_no_pass(shown: str | None) -> None:
    assert Passes("secret", "seat").read(shown) is None


@given(st.data())
def test_a_pass_with_one_letter_changed_is_none(data: st.DataObject) -> None:
    passes = Passes("secret", "seat")
    shown = passes.made("ann", 1)
    place = data.draw(st.integers(0, len(shown) - 1))
    letter = data.draw(st.sampled_from("abcXYZ019.-_=").filter(lambda one: one != shown[place]))
    assert passes.read(shown[:place] + letter + shown[place + 1 :]) is None


def test_a_pass_of_another_class_or_purpose_is_none() -> None:
    shown = Passes("secret", "seat").made("ann", 1)
    assert Passes("other", "seat").read(shown) is None
    assert Passes("secret", "trainer").read(shown) is None


class _Watch:
    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


def test_three_wrong_tries_are_free_and_then_each_doubles_the_wait() -> None:
    watch = _Watch()
    patience = Patience(watch)
    waits = []
    for _ in range(12):
        watch.now += patience.wait("a")
        patience.wrong("a")
        waits.append(patience.wait("a"))
    assert waits == [0, 0, 1, 2, 4, 8, 16, 32, 60, 60, 60, 60]
    assert patience.wait("b") == 0


def test_a_quarter_of_an_hour_without_a_wrong_one_is_forgotten() -> None:
    watch = _Watch()
    patience = Patience(watch)
    for _ in range(8):
        patience.wrong("a")
    watch.now += 901
    patience.wrong("a")
    assert patience.wait("a") == 0


def test_ten_thousand_connections_are_remembered_and_no_more() -> None:
    watch = _Watch()
    patience = Patience(watch)
    for _ in range(4):
        patience.wrong("first")
    assert patience.wait("first") > 0
    for number in range(10_000):
        patience.wrong(str(number))
    assert patience.wait("first") == 0
