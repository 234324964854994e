"""Node-IDs of a CANopen network: whole numbers from 1 to 127, no two alike (CiA 301)."""

from collections.abc import Collection, Iterable, Sequence
from typing import Final

from labkit.fieldbus import node_addresses
from labkit.fieldbus.checked import whole
from labkit.fieldbus.node_addresses import AddressPlan, AddressProblem, Reserved

HIGHEST_NODE_ID: Final = 127
NODE_IDS: Final = range(1, HIGHEST_NODE_ID + 1)
"""Every node-ID; 0 means all nodes in an NMT command (CiA 301)."""


def node_id(value: object, what: str = "the node-ID") -> int:
    """`value`, a node-ID; `PlanError` for anything else."""
    mend = "node-IDs are 1 to 127, and 0 means all nodes in an NMT command"
    return whole(value, what, 1, HIGHEST_NODE_ID, mend)


def check_node_ids(
    pairs: Iterable[tuple[str, object]],
    *,
    reserved: Reserved = (),
    keep_free: Sequence[int] = (),
) -> tuple[AddressProblem, ...]:
    """`labkit.fieldbus.node_addresses.check_addresses` from 1 to 127."""
    return node_addresses.check_addresses(pairs, NODE_IDS, reserved=reserved, keep_free=keep_free)


def complete_node_ids(
    pairs: Iterable[tuple[str, object]],
    *,
    reserved: Reserved = (),
    keep_free: Sequence[int] = (),
    locked: Collection[str] = (),
) -> AddressPlan:
    """`labkit.fieldbus.node_addresses.complete_addresses` from 1 to 127."""
    return node_addresses.complete_addresses(
        pairs, NODE_IDS, reserved=reserved, keep_free=keep_free, locked=locked
    )
