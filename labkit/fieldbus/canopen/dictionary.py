"""The object dictionary of a device: its entries by index and subindex, as values (CiA 301)."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from enum import Enum
from functools import cached_property
from itertools import pairwise

from labkit.fieldbus.canopen.data_types import DataType, Value, encode_value
from labkit.fieldbus.canopen.node_ids import node_id
from labkit.fieldbus.canopen.sdo import Multiplexor
from labkit.fieldbus.checked import every, flag, text
from labkit.fieldbus.errors import PlanError


class Access(Enum):
    """Who may do what, in the words of a data sheet (CiA 306): may read, may write."""

    READ_ONLY = ("ro", True, False)
    WRITE_ONLY = ("wo", False, True)
    READ_WRITE = ("rw", True, True)
    READ_WRITE_ON_READ = ("rwr", True, True)
    READ_WRITE_ON_WRITE = ("rww", True, True)
    CONSTANT = ("const", True, False)

    @property
    def word(self) -> str:
        """As the data sheet has it."""
        return self.value[0]

    @property
    def readable(self) -> bool:
        """Whether SDO may read it."""
        return self.value[1]

    @property
    def writable(self) -> bool:
        """Whether SDO may write it."""
        return self.value[2]


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry: a value that SDO reaches.

    `default` is what it holds when the device comes up, None where the sheet does not say; with
    `plus_node` the node-ID is added to it. `low` and `high` bound it. `mappable`: it may go into a
    PDO.
    """

    at: Multiplexor
    name: str
    data_type: DataType
    access: Access = Access.READ_WRITE
    default: Value | None = None
    plus_node: bool = False
    low: Value | None = None
    high: Value | None = None
    mappable: bool = False

    def __post_init__(self) -> None:
        named = text(self.name, "the name of an entry", of=str(self.at))
        flag(self.mappable, "the field 'mappable'", of=named)
        flag(self.plus_node, "the field 'plus_node'", of=named)
        if self.plus_node and not self.data_type.is_whole:
            raise PlanError(f"{named} adds the node-ID, so its type must hold whole numbers.")
        for value in (self.default, self.low, self.high):
            if value is not None:
                encode_value(self.data_type, value)
        low, high = self.low, self.high
        if isinstance(low, int | float) and isinstance(high, int | float) and low > high:
            raise PlanError(f"The limits of {named} are {low:g} to {high:g}; exchange them.")

    def value_for(self, node: int) -> Value | None:
        """What it holds in a device with this node-ID when it comes up."""
        if not self.plus_node:
            return self.default
        assert self.default is None or isinstance(self.default, int)
        return (self.default or 0) + node_id(node)

    def start_bytes(self, node: int) -> bytes:
        """The same as bytes; zero, or nothing, where the sheet does not say."""
        value = self.value_for(node)
        if value is not None:
            return encode_value(self.data_type, value)
        return bytes(self.data_type.length or 0)


@dataclass(frozen=True)
class ObjectDictionary:
    """All entries of a device, in order of index and subindex."""

    entries: tuple[Entry, ...]
    objects: Mapping[int, str] = field(default_factory=dict)
    """Names of objects with several entries, by index."""

    def __post_init__(self) -> None:
        entries = sorted(every(self.entries, Entry, "The entries"), key=lambda each: each.at)
        for entry, following in pairwise(entries):
            if entry.at == following.at:
                raise PlanError(f"Two entries stand at {entry.at}; take one out.")
        object.__setattr__(self, "entries", tuple(entries))

    def get(self, at: Multiplexor) -> Entry | None:
        """The entry at an index and subindex, None where there is none."""
        return self.by_place.get(at)

    @cached_property
    def by_place(self) -> Mapping[Multiplexor, Entry]:
        """Every entry by where it stands."""
        return {entry.at: entry for entry in self.entries}

    def has_object(self, index: int) -> bool:
        """Whether there is an object at an index, whatever its subindexes."""
        return any(entry.at.index == index for entry in self.entries)

    def name(self, at: Multiplexor) -> str:
        """What a technician calls it: name and place, the place alone where it is not known."""
        entry = self.get(at)
        if entry is None:
            return str(at)
        of = self.objects.get(at.index)
        return f"{of}, {entry.name} ({at})" if of else f"{entry.name} ({at})"

    def with_entries(self, entries: Iterable[Entry]) -> "ObjectDictionary":
        """The same with further entries."""
        return replace(self, entries=(*self.entries, *entries))
