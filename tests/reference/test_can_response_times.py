"""Response times against the published worked example of the revised analysis.

Davis, Burns, Bril, Lukkien, "Controller Area Network (CAN) schedulability analysis: Refuted,
revisited and revised", Real-Time Systems 35 (2007): three messages of 7 data bytes at 125 kbit/s,
1 ms each; the numbers are from memory of the paper.
"""

from fractions import Fraction
from math import ceil

import pytest

from labkit.fieldbus.can.response import Message, MessageSet

# name, priority, period ms, deadline ms, response ms of each instance in the busy period
PUBLISHED = [
    ("A", 1, 2.5, 2.5, 2.0),
    ("B", 2, 3.5, 3.25, 3.0),
    ("C", 3, 3.5, 3.25, 3.5),
]


def published_set() -> MessageSet:
    return MessageSet.of(
        125,
        [
            Message(name, identifier, period, 7, deadline)
            for name, identifier, period, deadline, _ in PUBLISHED
        ],
    )


@pytest.mark.parametrize(("name", "worst"), [(row[0], row[4]) for row in PUBLISHED])
def test_published_worst_cases(name: str, worst: float) -> None:
    response = published_set().response(name)
    assert response.transmission_ms == 1.0
    assert response.worst_ms == worst


def test_published_counterexample_the_second_instance_is_the_slower() -> None:
    # The analysis of 1994 says 3.0 ms for C, within its deadline; the second instance needs 3.5 ms.
    response = published_set().response("C")
    assert response.busy_period_ms == 7.0
    assert response.instances_ms == (3.0, 3.5)
    assert response.first_instance_ms == 3.0
    assert response.first_instance_ms < response.message.deadline < response.instances_ms[1]
    assert not response.schedulable
    assert [found.schedulable for found in published_set().responses()] == [True, True, False]
    assert not published_set().schedulable


def test_published_utilisation() -> None:
    # 1/2.5 + 1/3.5 + 1/3.5 = 97 %, worked by hand.
    assert published_set().utilisation == pytest.approx(0.4 + 2 / 3.5)
    assert published_set().load_rule().ok


def slow_but_plain(plan: MessageSet, place: int) -> Fraction:
    """The paper's equations with fractions, every w tried upwards in steps of one bit time."""
    rate = Fraction(str(plan.bit_rate_kbps))
    rows = [
        (m.bits, Fraction(str(m.period_ms)) * rate, Fraction(str(m.jitter_ms)) * rate)
        for m in plan.by_priority
    ]
    length, period, jitter = rows[place]
    blocking = max((row[0] for row in rows[place + 1 :]), default=0)
    busy = 1
    while busy != blocking + sum(ceil((busy + j) / t) * c for c, t, j in rows[: place + 1]):
        busy += 1
    worst = Fraction(0)
    for instance in range(ceil((busy + jitter) / period)):
        wait = 0
        fixed = blocking + instance * length
        while wait != fixed + sum(ceil((wait + j + 1) / t) * c for c, t, j in rows[:place]):
            wait += 1
        worst = max(worst, jitter + wait - instance * period + length)
    return worst / rate


# An invented plan: 250 kbit/s, jitter, mixed identifiers, one remote frame, 29-bit identifiers.
def test_invented_plan_agrees_with_the_equations_tried_step_by_step() -> None:
    plan = MessageSet.of(
        250,
        [
            Message("drive command", 0x185, 4, 6, jitter_ms=0.3),
            Message("drive status", 0x205, 4, 8, jitter_ms=1.1),
            Message("valve island", 0x2A0, 5, 2, deadline_ms=3),
            Message("scale request", 0x310, 20, 4, remote=True),
            Message("scale", 0x310, 20, 4, jitter_ms=2.5),
            Message("diagnosis", 0x18FF0102, 10, 8, extended=True),
            Message("parameters", 0x7A0, 12.5, 8, jitter_ms=0.25),
        ],
    )
    for place, response in enumerate(plan.responses()):
        assert response.worst_ms == float(slow_but_plain(plan, place))
