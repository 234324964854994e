"""The check of the way against a real second device: reached, or the likely causes in order."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterator
from typing import Final

import pytest
from namespaces import DEVICE, OTHER_DEVICE, OTHER_TRAINER, TRAINER, World, two_machines

PORT: Final = 8642
CHECK: Final = """
from labkit.room.way import chosen_way
from labkit.room.way_check import try_way
tried = try_way(chosen_way({named!r}), {port}, lambda: print("begun"), seconds={seconds})
print(tried.reached, *tried.sentences, sep="\\n")
"""
COMMAND: Final = """
import sys
from labkit.cli import main
sys.argv = ["labkit", "host", "--check"]
main()
"""


@pytest.fixture
def world() -> Iterator[World]:
    try:
        with two_machines() as made:
            yield made
    except OSError as error:
        if os.environ.get("LABKIT_REQUIRE_ALL"):
            raise
        pytest.skip(f"no network namespaces here: {error}")


def begin(
    world: World, named: str | None = None, seconds: float = 60, *, port: int = PORT
) -> subprocess.Popen[str]:
    """A check that waits for the second device."""
    check = world.trainer.python(CHECK.format(named=named, seconds=seconds, port=port))
    assert check.stdout is not None
    assert check.stdout.readline() == "begun\n"
    return check


def ended(check: subprocess.Popen[str]) -> list[str]:
    text, _ = check.communicate(timeout=90)
    return text.splitlines()


def test_the_command_shows_the_address_and_tells_who_reached_it(world: World) -> None:
    check = world.trainer.python(COMMAND)
    assert check.stdout is not None
    shown: list[str] = []
    while "Waiting" not in (line := check.stdout.readline()):
        assert line, shown
        shown.append(line.strip())
    assert shown[0] == f"Wi-Fi or cable “room0”: {TRAINER} (network 192.168.1.0/24)"
    assert f"http://{TRAINER}:{PORT}" in shown
    assert "This device reaches the room." in world.opens(f"http://{TRAINER}:{PORT}")
    assert ended(check) == [f"Reached from {DEVICE}: the way is open."]
    assert check.returncode == 0


def test_a_blocked_port_is_told_from_a_device_that_never_asked(world: World) -> None:
    world.block(PORT)
    check = begin(world, seconds=6)
    assert world.opens(f"http://{TRAINER}:{PORT}") == ""
    reached, first, cause = ended(check)
    assert reached == "False"
    assert f"but {DEVICE} asked for this machine" in first
    assert f"firewall blocks port {PORT}" in cause


def test_when_nothing_comes_the_causes_are_told_in_order(world: World) -> None:
    world.device.run("ip", "addr", "flush", "dev", "dev0")
    check = begin(world, seconds=3)
    assert world.opens(f"http://{TRAINER}:{PORT}") == ""
    reached, first, *causes = ended(check)
    assert (reached, first[:17]) == ("False", "Nothing came at a")
    words = ("firewall", "keeps its devices apart", "in another network", "--interface 10.20.0.1")
    assert [word in cause for word, cause in zip(words, causes, strict=True)] == [True] * 4
    assert "lie in 192.168.1.0/24" in causes[2]


def test_who_comes_by_another_interface_names_the_one_to_choose(world: World) -> None:
    check = begin(world)
    world.opens(f"http://{OTHER_TRAINER}:{PORT}")
    reached, first, *_, advice = ended(check)
    assert reached == "False"
    assert first.startswith(f"{OTHER_DEVICE} came in by another way")
    assert advice.endswith(f"--interface {OTHER_TRAINER}")
    again = begin(world, OTHER_TRAINER)
    world.opens(f"http://{OTHER_TRAINER}:{PORT}")
    assert ended(again) == ["True", f"Reached from {OTHER_DEVICE}: the way is open."]


def test_an_address_of_ipv6_is_reached_as_well(world: World) -> None:
    world.trainer.run("ip", "addr", "add", "fd00:7::5/64", "dev", "room0", "nodad")
    world.device.run("ip", "addr", "add", "fd00:7::23/64", "dev", "dev0", "nodad")
    check = begin(world, "fd00:7::5")
    assert "reaches the room" in world.opens(f"http://[fd00:7::5]:{PORT}")
    assert ended(check) == ["True", "Reached from fd00:7::23: the way is open."]


def test_the_machine_itself_is_no_second_device(world: World) -> None:
    check = begin(world)
    page = world.trainer.python(
        f"import urllib.request as web; print(web.urlopen('http://{TRAINER}:{PORT}').read())"
    ).communicate(timeout=60)[0]
    assert "This is the machine itself." in page
    world.opens(f"http://{TRAINER}:{PORT}")
    assert ended(check) == ["True", f"Reached from {DEVICE}: the way is open."]


def test_a_port_that_another_program_has_is_told_at_once(world: World) -> None:
    first = begin(world)
    second = world.trainer.python(CHECK.format(named=None, seconds=60, port=PORT))
    said = ended(second)[-1]
    assert f"Port {PORT} is taken at {TRAINER} by another program" in said
    assert "--port 8643" in said
    world.opens(f"http://{TRAINER}:{PORT}")
    assert ended(first)[0] == "True"


def test_an_address_that_goes_while_it_waits_is_told(world: World) -> None:
    check = begin(world)
    world.trainer.run("ip", "addr", "del", f"{TRAINER}/24", "dev", "room0")
    reached, sentence = ended(check)
    assert reached == "False"
    assert f"The address {TRAINER} is gone" in sentence
    assert OTHER_TRAINER in sentence


def test_without_a_network_nothing_is_tried(world: World) -> None:
    for end in ("dev0", "dev1"):
        world.device.run("ip", "link", "set", end, "down")
    check = world.trainer.python(CHECK.format(named=None, seconds=60, port=PORT))
    assert "it is in no network now" in ended(check)[-1]


def test_a_tunnel_is_not_chosen_though_the_way_out_leads_through_it(world: World) -> None:
    world.trainer.run("ip", "link", "add", "vpn0", "type", "veth", "peer", "name", "vpn1")
    world.trainer.run("ip", "addr", "add", "10.99.0.2/32", "dev", "vpn0")
    for end in ("vpn0", "vpn1"):
        world.trainer.run("ip", "link", "set", end, "up")
    world.trainer.run("ip", "route", "replace", "default", "dev", "vpn0")
    program = "from labkit.room.way import ways\nfor way in ways(): print(way.words)"
    told = ended(world.trainer.python(program))
    assert told[2:4] == [
        "A tunnel (VPN) “vpn0”: 10.99.0.2",
        "This machine alone: 127.0.0.1 (no other device can reach it)",
    ]
    assert {line.split("“")[1].split("”")[0] for line in told[:2]} == {"bench0", "room0"}
