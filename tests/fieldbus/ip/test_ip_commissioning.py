"""From a temporary to a fixed address: the usual order works, each step left out is noticed.

The order is common practice, no source; that a client asks until a reply comes is RFC 951.
"""

from collections.abc import Callable
from dataclasses import replace
from ipaddress import IPv4Address
from itertools import combinations

import pytest

from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.ip.commissioning import (
    Bench,
    EnterPair,
    FixedPort,
    LookForOthers,
    PowerCycle,
    SetLaptop,
    StartServer,
    StopAsking,
    StopServer,
    Verify,
    WriteAddress,
    carry_out,
    hardware_address,
    usual_order,
)
from labkit.fieldbus.ip.subnet import interface_of

HARDWARE = "00:1b:2c:3d:4e:5f"
WANTED = interface_of("192.168.1.10/24")
ORDER = usual_order(HARDWARE, "192.168.1.20/24", "192.168.1.10/24")
NEW = Bench(FixedPort(HARDWARE))


def test_the_usual_order_leads_to_a_proven_fixed_address() -> None:
    outcome = carry_out(NEW, ORDER)
    assert all(each.worked for each in outcome.happenings)
    assert outcome.left_to_do(WANTED) == ()
    assert outcome.bench.port.present == WANTED
    assert not outcome.bench.port.asks


@pytest.mark.parametrize(
    ("left_out", "symptom", "remains"),
    [
        (0, "not in the subnet of 192.168.1.10", "no address, not 192.168.1.10/24"),
        (1, None, "nobody looked whether"),
        (2, "table does not hold it", "no address, not 192.168.1.10/24"),
        (3, "nobody answers, it asks again and again", "no address, not 192.168.1.10/24"),
        (4, "the port has no power", "no address, not 192.168.1.10/24"),
        (5, "no address and does not ask", "no address is written in the port"),
        (6, "nobody answers, it asks again and again", "still asks at each power-up"),
        (7, None, "server still runs"),
        (8, None, "no answer after a power cycle"),
        (9, None, "no answer after a power cycle"),
    ],
)
def test_a_step_left_out(left_out: int, symptom: str | None, remains: str) -> None:
    outcome = carry_out(NEW, ORDER[:left_out] + ORDER[left_out + 1 :])
    failed = [each.sentence for each in outcome.happenings if not each.worked]
    assert (symptom is None) == (not failed)
    if symptom is not None:
        assert symptom in failed[0]
    assert any(remains in each for each in outcome.left_to_do(WANTED))


def test_two_steps_in_the_wrong_order_are_noticed_or_harmless() -> None:
    """Every swap of two steps: done means the same state as the usual order's."""
    harmless = []
    for one, other in combinations(range(len(ORDER)), 2):
        order = list(ORDER)
        order[one], order[other] = order[other], order[one]
        outcome = carry_out(NEW, order)
        if not outcome.left_to_do(WANTED):
            harmless.append((one, other))
            assert outcome.bench == carry_out(NEW, ORDER).bench
    # The two power cycles are alike; pair, server and first power cycle may come in any order, for
    # the port keeps asking; the asking may be switched off before the address is written, and the
    # look for others may come later; the server may be stopped sooner or later.
    assert (4, 8) in harmless
    assert (3, 4) in harmless
    assert (5, 6) in harmless
    assert (0, 1) not in harmless
    assert (5, 8) not in harmless
    assert (8, 9) not in harmless
    assert (4, 5) not in harmless


def test_temporary_address_is_lost_with_the_power() -> None:
    temporary = carry_out(NEW, ORDER[:5]).bench
    assert temporary.port.present == WANTED
    bench = carry_out(temporary, [StopServer(), PowerCycle()]).bench
    assert bench.port.present is None
    bench = carry_out(bench, [StartServer()]).bench
    assert bench.port.present == WANTED  # it kept asking


def test_a_taken_address_is_noticed_by_looking_and_by_answers_that_come_and_go() -> None:
    bench = replace(NEW, others=frozenset({IPv4Address("192.168.1.10")}))
    outcome = carry_out(bench, ORDER)
    assert "taken, choose another" in outcome.happenings[1].sentence
    assert "used twice" in outcome.happenings[5].sentence
    assert outcome.left_to_do(WANTED)


def test_a_laptop_in_another_subnet_hands_out_but_cannot_write() -> None:
    order = (SetLaptop(interface_of("192.168.2.20/24")), *ORDER[1:])
    outcome = carry_out(NEW, order)
    assert "silence proves nothing" in outcome.happenings[1].sentence
    assert "gets 192.168.1.10/24" in outcome.happenings[4].sentence
    assert "different subnets" in outcome.happenings[5].sentence


def test_an_answer_while_the_port_still_asks_proves_nothing() -> None:
    order = [*ORDER[:6], PowerCycle(), Verify()]
    outcome = carry_out(NEW, order)
    assert outcome.happenings[-1].worked
    assert not outcome.bench.proven


def test_a_later_change_must_be_proven_again() -> None:
    done = carry_out(NEW, ORDER).bench
    other = interface_of("192.168.1.11/24")
    outcome = carry_out(done, [LookForOthers(other.ip), WriteAddress(other)])
    assert outcome.left_to_do(other) == (
        "no answer after a power cycle has proven that the address stays",
    )
    assert carry_out(outcome.bench, [PowerCycle(), Verify()]).left_to_do(other) == ()


def test_a_port_that_has_an_address_or_does_not_ask_is_left_alone() -> None:
    other = interface_of("192.168.1.99/24")
    served = carry_out(NEW, ORDER[:5]).bench
    assert carry_out(served, [EnterPair(HARDWARE, other)]).bench.port.present == WANTED
    silent = replace(NEW, port=FixedPort(HARDWARE, asks=False, powered=True))
    assert carry_out(silent, ORDER[:4]).bench.port.present is None
    unpowered = carry_out(NEW, ORDER[:4]).bench
    assert unpowered.port.present is None


def test_no_answer_says_why() -> None:
    happening = carry_out(NEW, [Verify()]).happenings[0]
    assert (happening.sentence, happening.worked) == ("no answer: the port has no power", False)
    cold = carry_out(NEW, [PowerCycle(), Verify()]).happenings[1]
    assert (cold.sentence, cold.worked) == ("no answer: the port has no address", False)


def test_writing_away_from_the_laptop_cuts_it_off() -> None:
    bench = carry_out(NEW, ORDER[:5]).bench
    far = interface_of("10.0.0.10/8")
    outcome = carry_out(bench, [WriteAddress(far), StopAsking()])
    assert [each.worked for each in outcome.happenings] == [True, False]


@pytest.mark.parametrize(
    "bad",
    [
        lambda: hardware_address("00:1b:2c:3d:4e"),
        lambda: hardware_address("00:1b:2c:3d:4e:5g"),
        lambda: hardware_address("01-1b-2c-3d-4e-5f"),
        lambda: hardware_address(None),  # type: ignore[arg-type]
        lambda: FixedPort("?"),
        lambda: SetLaptop("192.168.1.255/24"),  # type: ignore[arg-type]
        lambda: SetLaptop("192.168.1.20"),  # type: ignore[arg-type]
        lambda: EnterPair(HARDWARE, "127.0.0.1/8"),  # type: ignore[arg-type]
        lambda: WriteAddress("0.0.0.0/0"),  # type: ignore[arg-type]
        lambda: LookForOthers("here"),  # type: ignore[arg-type]
        lambda: carry_out(NEW, ["power"]),  # type: ignore[list-item]
    ],
)
def test_what_cannot_be_is_refused(bad: Callable[[], object]) -> None:
    with pytest.raises(PlanError, match=r"[.;]"):
        bad()
