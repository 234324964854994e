"""A planned network read out in sentences: for screen readers, and for people without pictures."""

from collections.abc import Iterator, Mapping, Sequence

from labkit.fieldbus.devicenet.network import Network
from labkit.fieldbus.devicenet.parts import Device, Drop, Supply

SHOWN = ("rate", "total", "lengths", "currents", "addresses", "voltages")
"""What a drawing or a reading can tell beside names and structure; `total`: the current in all."""
USUALLY_SHOWN = ("rate", "total", "lengths", "currents")


def plain(value: float, decimals: int = 2) -> str:
    """A number with at most so many decimals and no trailing zeros."""
    return f"{round(value, decimals) + 0.0:.8g}"


def joined(items: Sequence[str]) -> str:
    """Items as "a", "a and b", "a, b and c"."""
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} and {items[-1]}"


def device_facts(
    device: Device, show: Sequence[str], voltages: Mapping[str, float]
) -> tuple[str, ...]:
    """What is told of a device, in reading order: address, current or power, voltage."""
    facts = []
    if "addresses" in show:
        facts.append("no address" if device.address is None else f"node {device.address}")
    if "currents" in show:
        power = device.constant_power
        facts.append(f"{plain(device.current, 3)} A" if power is None else f"{plain(power)} W")
    if "voltages" in show and device.name in voltages:
        facts.append(f"{voltages[device.name]:.2f} V")
    return tuple(facts)


def supply_facts(supply: Supply) -> tuple[str, ...]:
    """What is told of a supply: voltage, rating, fuses, polarity."""
    facts = [f"{plain(supply.voltage)} V"]
    if supply.rating is not None:
        facts.append(f"rated {plain(supply.rating)} A")
    for side, fuse in (("left", supply.fuse_left), ("right", supply.fuse_right)):
        if fuse is not None:
            facts.append(f"{side} fuse {plain(fuse)} A" if fuse else f"{side} fuse out")
    if supply.reversed_polarity:
        facts.append("V+ and V− swapped")
    return tuple(facts)


def network_in_words(
    network: Network,
    *,
    show: Sequence[str] = USUALLY_SHOWN,
    voltages: Mapping[str, float] | None = None,
) -> str:
    """The whole network in sentences, from its left end to its right end."""
    return " ".join(_sentences(network, show, voltages or {}))


def _sentences(
    network: Network, show: Sequence[str], voltages: Mapping[str, float]
) -> Iterator[str]:
    trunk = ", then ".join(
        f"{plain(segment.length)} m of {segment.cable} cable" for segment in network.segments
    )
    rate = f" at {network.data_rate} kbit/s" if "rate" in show else ""
    yield f"DeviceNet{rate}. Trunk from left to right: {trunk}."
    ends = [f"{plain(t.resistance)} Ω at {plain(t.position)} m" for t in network.terminators or ()]
    yield f"Terminators: {joined(ends)}." if ends else "There is no terminator."
    for supply in network.supplies:
        called = _called(supply.name)
        yield f"{called} at {plain(supply.position)} m: {', '.join(supply_facts(supply))}."
    if not network.supplies:
        yield "There is no supply."
    if network.section_breaks:
        cuts = joined([f"{plain(position)} m" for position in network.section_breaks])
        yield f"V+ is cut at {cuts}."
    for tap in network.taps:
        words = _drop_in_words(tap.drop, show, voltages)
        yield f"{tap.name[0].upper()}{tap.name[1:]} at {plain(tap.position)} m: {words}."
    if not network.taps:
        yield "There is no tap."


def _called(supply: str) -> str:
    """How a sentence begins about a supply: "supply 35" is one already."""
    if supply.startswith("supply"):
        return f"S{supply[1:]}"
    return f"Supply {supply}" if supply else "Supply"


def _drop_in_words(drop: Drop, show: Sequence[str], voltages: Mapping[str, float]) -> str:
    length = f"drop of {plain(drop.length)} m" if "lengths" in show else "drop"
    if drop.cable != "thin":
        length += f" of {drop.cable} cable"
    devices = []
    for device in drop.devices:
        facts = device_facts(device, show, voltages)
        devices.append(f"{device.name} ({', '.join(facts)})" if facts else device.name)
    words = f"{length} to {joined(devices)}" if devices else length
    if not devices and not drop.branches:
        words += " with nothing on it"
    if not drop.branches:
        return words
    branches = "; ".join(_drop_in_words(branch, show, voltages) for branch in drop.branches)
    return f"{words}, going on as [{branches}]"
