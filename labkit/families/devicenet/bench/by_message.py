"""A node address told by message, over the scanner, to whoever answers at an address.

The scanner takes an explicit connection of that node, unless it has it already, and writes the node
address attribute of its DeviceNet object (class 3, attribute 1; services and layout as the
reference page has them, from memory). Who is off the network, such as the second of two at one
address, hears nothing; a device whose switches say its address refuses. What comes of it is played
on the bus.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, Final, cast

from labkit.bench.actions import Action
from labkit.bench.bench import RUN_S, Bench
from labkit.families.devicenet.bench.bus import Bus
from labkit.families.devicenet.bench.faults import AddressSet
from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.checked import whole
from labkit.fieldbus.devicenet.connections import Allocation, allocate_request, request_frames
from labkit.fieldbus.devicenet.messages import ExplicitRequest
from labkit.fieldbus.devicenet.objects import NODE_ADDRESS_ATTRIBUTE, ObjectClass

if TYPE_CHECKING:
    from labkit.families.devicenet.bench.setup import Setup

_ANSWER_S: Final = 0.3
"""Time for an answer, s."""


@dataclass(frozen=True)
class TellAddress(Action):
    """Tell the node that answers at one address to be another; 0 to 63 both.

    That it was sent does not say that anybody took it: the scanner's report and the log do.
    """

    node: int
    address: int
    kind: ClassVar[str] = "tell address"
    needs_power: ClassVar[bool] = True

    def __post_init__(self) -> None:
        whole(self.node, "the node that is told", 0, 63)
        whole(self.address, "the node address that it is told", 0, 63)

    def _done(self, bench: Bench) -> Bench:
        after = set(bench.faults)
        for name, address in _moved(bench, self.node, self.address).items():
            after = {f for f in after if not (isinstance(f, AddressSet) and f.device == name)}
            if address != bench.layout.device(name).address:
                after.add(AddressSet(name, address))
        return bench.with_faults(after)

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"tell node {self.node} by message to be node {self.address}"


def _moved(bench: Bench, node: int, address: int) -> dict[str, int]:
    """The devices that took another address, and which."""
    setup = cast("Setup", bench.setup)
    standing = {device.name: device.address for device in bench.devices}
    scanner = standing[setup.scanner]
    bus = Bus(bench.devices, bench.ears, setup.master_on(bench))
    bus.run_until(RUN_S)
    takes = allocate_request(Allocation.EXPLICIT, scanner)
    writes = ExplicitRequest.set_attribute(
        ObjectClass.DEVICENET, 1, NODE_ADDRESS_ATTRIBUTE, bytes([address])
    )
    for body, unconnected in ((takes, True), (writes, False)):
        for frame in request_frames(body, node, scanner, unconnected=unconnected):
            bus.put(setup.scanner, Frame(frame.identifier.value, frame.data))
        bus.run_until(bus.time_s + _ANSWER_S)
    now = {name: bus.address(name) for name in standing}
    return {name: at for name, at in now.items() if at != standing[name]}
