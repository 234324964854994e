"""Worst-case response times against a simulated bus."""

from fractions import Fraction

import pytest
from can_simulator import Occasion, responses
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from labkit.fieldbus.can.length import worst_case_bits
from labkit.fieldbus.can.response import Message, MessageSet
from labkit.fieldbus.errors import PlanError

# At 1000 kbit/s one bit is one µs, so whole bits are 0.001 ms and the simulator's ints are exact.
RATE = 1000


@st.composite
def plans(draw: st.DrawFn, most_load: Fraction = Fraction(98, 100)) -> MessageSet:
    count = draw(st.integers(1, 6))
    messages = []
    load = Fraction(0)
    for number in range(count):
        extended = draw(st.booleans())
        data_bytes = draw(st.integers(0, 8))
        period = draw(st.integers(150, 2500))
        jitter = draw(st.sampled_from([0, 0, 1, 90, 400, 3000]))
        load += Fraction(worst_case_bits(data_bytes, extended=extended), period)
        messages.append(
            Message(
                f"m{number}",
                # Identifiers spread over both formats, none twice.
                (0x100 + 16 * number) << 18 if extended else 0x100 + 16 * number,
                period / 1000,
                data_bytes,
                jitter_ms=jitter / 1000,
                extended=extended,
            )
        )
    assume(load <= most_load)
    return MessageSet.of(RATE, draw(st.permutations(messages)))


def bits(time_ms: float | None) -> int:
    assert time_ms is not None
    return round(time_ms * 1000)


def critical_instant(plan: MessageSet, place: int, horizon: int) -> list[Occasion]:
    """All from the top priority to `place` queued at 0 with their full jitter, then without any."""
    occasions = []
    for priority, message in enumerate(plan.by_priority[: place + 1]):
        period, jitter = bits(message.period_ms), bits(message.jitter_ms)
        for event in range(-jitter, horizon, period):
            occasions.append(Occasion(priority, message.bits, event, max(0, event)))
    return occasions


@settings(max_examples=120, deadline=None)
@given(plans())
def test_bound_is_reached_at_the_critical_instant(plan: MessageSet) -> None:
    for place, response in enumerate(plan.responses()):
        busy = bits(response.busy_period_ms)
        occasions = critical_instant(plan, place, busy)
        # The longest frame of lower priority has begun an instant before.
        blocked = max((message.bits for message in plan.by_priority[place + 1 :]), default=0)
        seen = [
            time for one, time in responses(occasions, busy_until=blocked) if one.priority == place
        ]
        assert max(seen) == bits(response.worst_ms)
        assert seen == [bits(time) for time in response.instances_ms]


@settings(max_examples=60, deadline=None)
@given(plans(), st.randoms(use_true_random=False))
def test_no_simulated_traffic_exceeds_the_bound(plan: MessageSet, random: object) -> None:
    draw = random.randint  # type: ignore[attr-defined]
    worst = [bits(response.worst_ms) for response in plan.responses()]
    occasions = []
    for priority, message in enumerate(plan.by_priority):
        period, jitter = bits(message.period_ms), bits(message.jitter_ms)
        event = draw(0, period)
        queued = 0
        lazy = draw(0, 1)
        while event < 40_000:
            # Frames of one message leave in the order of their events.
            queued = max(queued, event + draw(0, jitter))
            length = message.bits - draw(0, 1) * draw(0, 12)
            occasions.append(Occasion(priority, length, event, queued))
            event += period + lazy * draw(0, period)
    for one, time in responses(occasions):
        assert time <= worst[one.priority]


@settings(max_examples=60, deadline=None)
@given(plans())
def test_more_jitter_or_a_slower_bus_never_helps(plan: MessageSet) -> None:
    worst = [response.worst_ms for response in plan.responses()]
    jittery = MessageSet.of(
        RATE,
        [
            Message(
                m.name, m.identifier, m.period_ms, m.data_bytes, None, 0.2 + m.jitter_ms, m.extended
            )
            for m in plan.messages
        ],
    )
    for before, after in zip(worst, jittery.responses(), strict=True):
        assert before is not None
        assert after.worst_ms is not None
        assert after.worst_ms >= before
    for before, response in zip(worst, MessageSet.of(999, plan.messages).responses(), strict=True):
        assert before is not None
        assert response.worst_ms is None or response.worst_ms >= before


@settings(deadline=None)
@given(plans())
def test_utilisation_is_the_sum_of_the_shares(plan: MessageSet) -> None:
    shares = [message.bits / bits(message.period_ms) for message in plan.messages]
    assert plan.utilisation == pytest.approx(sum(shares))


@settings(deadline=None)
@given(plans())
def test_response_by_name_and_all_at_once(plan: MessageSet) -> None:
    for response in plan.responses():
        assert plan.response(response.message.name) == response
    assert plan.schedulable == all(one.deadline_rule.ok for one in plan.responses())


def test_overload_leaves_the_low_priorities_without_a_bound() -> None:
    # 135 bits every 200 bits twice: 135 %.
    plan = MessageSet.of(RATE, [Message("high", 1, 0.2), Message("low", 2, 0.2)])
    high, low = plan.responses()
    assert plan.utilisation == pytest.approx(1.35)
    assert not plan.load_rule().ok
    assert high.worst_ms == 0.27
    assert (low.worst_ms, low.busy_period_ms, low.instances_ms) == (None, None, ())
    assert not low.schedulable
    assert not low.deadline_rule.ok
    assert low.first_instance_ms is None
    assert not plan.schedulable
    # And in the simulation the low message waits ever longer.
    occasions = [
        Occasion(priority, 135, event, event)
        for priority in (0, 1)
        for event in range(0, 200_000, 200)
    ]
    waits = [time for one, time in responses(occasions) if one.priority == 1]
    assert waits[-1] > 50_000


def test_exactly_full_bus_has_a_bound_only_where_nothing_blocks() -> None:
    # 135 bits every 270 bits, twice: exactly 100 %.
    full = [Message("a", 1, 0.27), Message("b", 2, 0.27)]
    assert [one.worst_ms for one in MessageSet.of(RATE, full).responses()] == [0.27, 0.27]
    third = Message("c", 3, 1000.0, 0)
    responses_of_three = MessageSet.of(RATE, [*full, third]).responses()
    assert [one.worst_ms for one in responses_of_three] == [0.27, None, None]
    shaky = [full[0], Message("b", 2, 0.27, jitter_ms=0.001)]
    assert MessageSet.of(RATE, shaky).response("b").worst_ms is None


def test_load_a_hair_under_full_is_refused_in_a_sentence() -> None:
    # 135/270 + 135/270.000001: so near 100 % that the busy period is beyond counting.
    plan = MessageSet.of(
        RATE, [Message("a", 1, 0.27), Message("b", 2, 0.27000001), Message("c", 3, 1e9)]
    )
    with pytest.raises(PlanError, match="lengthen a period"):
        plan.responses()


def test_decimal_periods_are_exact() -> None:
    # 0.1 ms is not a binary fraction; three frames of 100 bits at 1000 kbit/s meet exactly.
    message = Message("a", 1, 0.1, 0)
    assert message.bits == 55
    plan = MessageSet.of(550, [message])
    assert plan.utilisation == 1.0
    assert plan.response("a").worst_ms == 0.1


def test_data_and_remote_frame_may_share_an_identifier() -> None:
    plan = MessageSet.of(125, [Message("ask", 5, 10, remote=True), Message("say", 5, 10)])
    assert [message.name for message in plan.by_priority] == ["say", "ask"]
    assert plan.by_priority[1].bits == 55


GOOD = {"name": "a", "identifier": 1, "period_ms": 10.0}


@pytest.mark.parametrize(
    ("change", "part"),
    [
        ({"name": ""}, "name of a message"),
        ({"name": 5}, "name of a message"),
        ({"identifier": 0x800}, "Message a: The identifier is 2048"),
        ({"identifier": True}, "Message a"),
        ({"period_ms": 0}, "period of a"),
        ({"period_ms": -1.0}, "period of a"),
        ({"period_ms": float("nan")}, "period of a"),
        ({"period_ms": float("inf")}, "period of a"),
        ({"period_ms": True}, "period of a"),
        ({"period_ms": "10"}, "period of a"),
        ({"period_ms": None}, "period of a"),
        ({"data_bytes": 9}, "data bytes of a"),
        ({"data_bytes": -1}, "data bytes of a"),
        ({"data_bytes": 2.0}, "data bytes of a"),
        ({"deadline_ms": 0}, "deadline of a"),
        ({"deadline_ms": float("nan")}, "deadline of a"),
        ({"jitter_ms": -0.1}, "jitter of a"),
        ({"jitter_ms": float("inf")}, "jitter of a"),
        ({"extended": 1}, "29-bit identifier of message a"),
        ({"remote": None}, "remote frame of message a"),
    ],
)
def test_message_that_cannot_exist(change: dict[str, object], part: str) -> None:
    Message(**GOOD)  # type: ignore[arg-type]
    with pytest.raises(PlanError, match=part):
        Message(**{**GOOD, **change})  # type: ignore[arg-type]


def test_message_set_that_cannot_exist() -> None:
    one = Message("a", 1, 10)
    for rate, messages, part in [
        (0, (one,), "bit rate"),
        (float("nan"), (one,), "bit rate"),
        (125, (), "at least one message"),
        (125, [one], "no tuple"),
        (125, (one, 5), "messages only"),
        (125, (one, Message("b", 1, 10)), "a and b share the identifier 0x1"),
        (125, (one, Message("a", 2, 10)), "Two messages are called a"),
    ]:
        with pytest.raises(PlanError, match=part):
            MessageSet(rate, messages)  # type: ignore[arg-type]
    with pytest.raises(PlanError, match="no message 'x'"):
        MessageSet.of(125, [one]).response("x")
