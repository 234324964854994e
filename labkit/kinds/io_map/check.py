"""Devices' bytes placed in a scanner's two areas: many right maps, checked by the rules."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from labkit.doors.verdict import Verdict, unreadable
from labkit.fieldbus.direct_address import HIGHEST_BYTE, Area
from labkit.fieldbus.iomap import Alignment, DeviceIo, IoMap, Placement
from labkit.fieldbus.packing import fill_up, moves_down
from labkit.kinds.common import paper
from labkit.kinds.common.byte_areas import AREAS
from labkit.kinds.common.paper import Mistake
from labkit.kinds.common.paper_byte_grid import Block, byte_grid
from labkit.kinds.common.sentences import capital
from labkit.kinds.io_map.data import (
    DATA,
    HOME,
    Answer,
    AreaName,
    Data,
    IoMapAsk,
    IoMapKey,
    Place,
)
from labkit.language.number import QuantityError, is_hexadecimal, read_whole

_NAMES: Final[dict[Area, AreaName]] = {Area.INPUT: "input", Area.OUTPUT: "output"}
_BYTE_NOUNS: Final = ("byte",)
_LONGEST_TEXT: Final = 40


@dataclass(frozen=True, slots=True)
class _Block:
    """Bytes that the trainee places, and where they put them, as typed."""

    device: str
    data: Data
    length: int
    area: str
    at: str

    @property
    def home(self) -> Area:
        return AREAS[HOME[self.data]]

    @property
    def start(self) -> int | None:
        try:
            start = read_whole(self.at, _BYTE_NOUNS)
        except QuantityError:
            return None
        return start if start >= 0 else None

    @property
    def owner(self) -> tuple[str, Area]:
        return self.device, self.home

    def __str__(self) -> str:
        verb = "produces" if self.data == "produced" else "consumes"
        return f"what {self.device} {verb}"


@dataclass(frozen=True, slots=True)
class _Fault:
    """One rule broken: the slip it is, the blocks at fault and a sentence."""

    slip: str
    owners: frozenset[tuple[str, Area]]
    sentence: str


class IoMapCheck:
    """Credit is the share of blocks that keep every rule."""

    def unreadable(self, ask: IoMapAsk, answer: Any) -> str:
        """Nothing placed."""
        if any(block.area or block.at for block in _blocks(ask, answer)):
            return ""
        return "Nothing is placed yet."

    def asks_back(self, ask: IoMapAsk, answer: Any) -> list[str]:
        """Each place that is not the number of a byte."""
        typed = [block for block in _blocks(ask, answer) if block.at and block.start is None]
        return [f"{capital(str(block))}: {_no_byte(block)}" for block in typed]

    def check(self, ask: IoMapAsk, key: IoMapKey, answer: Any) -> Verdict:  # noqa: ARG002
        """Which rule fails, for which bytes, where."""
        sentence = self.unreadable(ask, answer)
        if sentence:
            return unreadable(sentence)
        blocks = _blocks(ask, answer)
        faults = _faults(ask, blocks)
        if not faults:
            return Verdict(1.0, f"Right: {_used(ask, blocks)}")
        faulty = {owner for fault in faults for owner in fault.owners}
        credit = 1 - len(faulty) / len(blocks)
        if _counts_elements(ask, blocks):
            words = {2: "words", 4: "double words"}[ask["alignment"]]
            sentence = f"Your numbers count {words}; what is asked is the first **byte**."
            return Verdict(credit, sentence, "counted-in-words")
        return Verdict(credit, "\n".join(fault.sentence for fault in faults), faults[0].slip)

    def shown(self, ask: IoMapAsk, answer: Any) -> str:
        """Device by device: area and first byte."""
        if not isinstance(answer, dict):
            return ""
        return ", ".join(
            f"{block.device} {block.data}: {block.area or '–'} {block.at or '–'}"
            for block in _blocks(ask, answer)
        )

    def right_answer(self, ask: IoMapAsk, key: IoMapKey) -> Answer:  # noqa: ARG002
        """Every block at the lowest free byte."""
        filled = filled_map(ask)
        # The reader refuses a scenario that has no answer.
        assert filled is not None
        fixed = {(item["device"], item["area"]) for item in ask["placed"]}
        answer: Answer = {data: {} for data in HOME}
        for each in filled.placements:
            area = _NAMES[each.area]
            if (each.device, area) not in fixed:
                answer[DATA[area]][each.device] = {"area": area, "at": str(each.first_byte)}
        return answer

    def slip_answers(self, ask: IoMapAsk, key: IoMapKey) -> dict[str, Answer]:
        """A right map spoilt in each of the ways that the rules know."""
        right = self.right_answer(ask, key)
        blocks = _blocks(ask, right)
        first = blocks[0]
        beyond = ask["areas"][HOME[first.data]] // ask["alignment"] * ask["alignment"]
        other = "output" if HOME[first.data] == "input" else "input"
        spoilt: list[Answer] = [
            _with(right, first, at=""),
            _with(right, first, at="first"),
            _with(right, first, area=other),
            _with(right, first, at=str(beyond)),
            *(_with(right, first, at=str(at)) for at in _starts(ask, right, first)),
            *(
                _with(right, block, at=str(int(block.at) + more))
                for block in blocks
                for more in (1, 4, 12)
            ),
            {
                data: {
                    device: {**place, "at": str(int(place["at"]) // ask["alignment"])}
                    for device, place in right[data].items()
                }
                for data in HOME
            },
        ]
        answers: dict[str, Answer] = {}
        for answer in spoilt:
            verdict = self.check(ask, key, answer)
            if verdict.slip and not verdict.right:
                answers.setdefault(verdict.slip, answer)
        return answers

    def paper(self, ask: IoMapAsk) -> str:
        """A table for the places, and both areas as grids to draw in."""
        return _places_table(ask, _blocks(ask, {})) + paper.note(_rules(ask)) + _areas(ask, ())

    def paper_right(self, ask: IoMapAsk, key: IoMapKey) -> str:
        """One right map, in the table and in the areas."""
        blocks = _blocks(ask, self.right_answer(ask, key))
        return _places_table(ask, blocks) + _areas(ask, blocks)

    def paper_slips(self, ask: IoMapAsk, key: IoMapKey) -> list[Mistake]:
        """Each broken rule with the bytes alone that are placed otherwise."""
        right = set(_blocks(ask, self.right_answer(ask, key)))
        found = []
        for slip, answer in self.slip_answers(ask, key).items():
            changed = [block for block in _blocks(ask, answer) if block not in right]
            shown = paper.some_of([f"{b}: {b.area} {b.at or 'empty'}" for b in changed])
            found.append(Mistake(slip, shown, self.check(ask, key, answer).message))
        return found

    def paper_for_marking(self, ask: IoMapAsk, key: IoMapKey, marks: float) -> str:  # noqa: ARG002
        """The rules that decide, and what each device's bytes in one direction are worth."""
        each = paper.marks_in_words(marks / len(_blocks(ask, {})))
        return paper.note(
            "Many maps are right. What a device produces, and what it consumes, earns "
            f"{each} where it keeps every rule; an overlap costs both devices. {_rules(ask)}"
        )


_COLUMNS: Final = ("bytes", "area", "first byte")


def _places_table(ask: IoMapAsk, blocks: Sequence[_Block]) -> str:
    """A row a device: what it produces and where that lies, what it consumes and where."""
    found = {(block.device, block.data): block for block in blocks}
    rows = [
        [
            paper.text(each["name"]),
            *(cell for data in HOME for cell in _cells(found.get((each["name"], data)))),
        ]
        for each in ask["devices"]
    ]
    heads = ["Device", *(f"{data.capitalize()}: {column}" for data in HOME for column in _COLUMNS)]
    sizes = ("", *("tick", "fill tiny", "fill tick") * 2)
    return paper.table(heads, rows, *sizes)


def _cells(block: _Block | None) -> list[str]:
    """Length, area and first byte; strokes where there is nothing to place."""
    if block is None:
        return ["–"] * 3
    return [str(block.length), paper.filled(block.area), paper.filled(block.at)]


def _rules(ask: IoMapAsk) -> str:
    """What a map must keep, as the page tells it too."""
    starts = "at any byte" if ask["alignment"] == 1 else f"at a multiple of {ask['alignment']}"
    gaps = " No gaps but those that this makes." if ask["packed"] else ""
    return f"No byte belongs to two devices; each device's bytes start {starts}.{gaps}"


def _areas(ask: IoMapAsk, blocks: Sequence[_Block]) -> str:
    """Both areas with what lies there already and, in their own area, the blocks."""
    parts = []
    for name, area in AREAS.items():
        here: list[Block] = [
            (each.device, each.first_byte, each.length) for each in _fixed(ask) if each.area is area
        ]
        here += [
            (b.device, b.start, b.length) for b in blocks if b.area == name and b.start is not None
        ]
        grid = byte_grid(name, ask["areas"][name], here, boundary=ask["alignment"])
        parts.append(f'<div class="together">{paper.note(f"The {name} area:")}{grid}</div>')
    return "".join(parts)


def filled_map(ask: IoMapAsk) -> IoMap | None:
    """A map that keeps every rule; None where this search finds none."""
    return fill_up(fixed_map(ask), _devices(ask), Alignment(ask["alignment"]))


def fixed_map(ask: IoMapAsk) -> IoMap:
    """What lies in the areas already."""
    return IoMap(ask["areas"]["input"], ask["areas"]["output"], tuple(_fixed(ask)))


def _devices(ask: IoMapAsk) -> list[DeviceIo]:
    return [DeviceIo(each["name"], each["produced"], each["consumed"]) for each in ask["devices"]]


def _fixed(ask: IoMapAsk) -> list[Placement]:
    sizes = {each["name"]: each for each in ask["devices"]}
    found = []
    for each in ask["placed"]:
        length = sizes[each["device"]][DATA[each["area"]]]
        found.append(Placement(each["device"], AREAS[each["area"]], each["at"], length))
    return found


def _blocks(ask: IoMapAsk, answer: Any) -> list[_Block]:
    fixed = {(each["device"], each["area"]) for each in ask["placed"]}
    return [
        _Block(each["name"], data, each[data], *_typed(answer, data, each["name"]))
        for each in ask["devices"]
        for data, home in HOME.items()
        if each[data] and (each["name"], home) not in fixed
    ]


def _typed(answer: Any, data: str, device: str) -> tuple[str, str]:
    """Area and first byte as they stand in the answer, "" for what is not there."""
    for step in (data, device):
        answer = answer.get(step) if isinstance(answer, dict) else None
    if not isinstance(answer, dict):
        return "", ""
    area, at = answer.get("area"), answer.get("at")
    return area if isinstance(area, str) and area in AREAS else "", _text(at)


def _text(value: Any) -> str:
    if isinstance(value, bool) or not isinstance(value, str | int):
        return ""
    if isinstance(value, int) and value.bit_length() > 100:
        return "a huge number"
    return str(value).strip()[:_LONGEST_TEXT]


def _faults(ask: IoMapAsk, blocks: list[_Block]) -> list[_Fault]:
    faults = [fault for block in blocks if (fault := _misplaced(ask, block))]
    misplaced = {owner for fault in faults for owner in fault.owners}
    placed = [block for block in blocks if block.owner not in misplaced]
    return faults + _broken_rules(ask, placed, complete=not misplaced)


def _no_byte(block: _Block) -> str:
    if is_hexadecimal(block.at):
        return f"'{block.at}' is hexadecimal: write the byte as a decimal number."
    return f"'{block.at}' is not the number of a byte; write 0, 1, 2 …"


def _misplaced(ask: IoMapAsk, block: _Block) -> _Fault | None:
    """Why a block has no place at all in the map."""

    def fault(slip: str, sentence: str) -> _Fault:
        return _Fault(slip, frozenset([block.owner]), sentence)

    name = capital(str(block))
    if not block.area or not block.at:
        what = "area and first byte" if not block.area and not block.at else "first byte"
        what = "area" if not block.area and block.at else what
        return fault("missing-block", f"{name} has no {what} yet.")
    if AREAS[block.area] is not block.home:
        sentence = f"{name} is in the {block.area} area. {_DIRECTION[block.data]}"
        return fault("areas-swapped", sentence)
    if block.start is None:
        return fault("not-a-byte", _no_byte(block))
    if block.start > HIGHEST_BYTE:
        last = ask["areas"][block.area] - 1
        return fault("outside-area", f"{name} starts outside the area, whose last byte is {last}.")
    return None


_DIRECTION: Final = {
    "produced": "Seen from the scanner, what a device produces comes in: input area.",
    "consumed": "Seen from the scanner, what a device consumes goes out: output area.",
}


def _broken_rules(ask: IoMapAsk, blocks: list[_Block], *, complete: bool) -> list[_Fault]:
    alignment = Alignment(ask["alignment"])
    mine = {block.owner: block for block in blocks}
    placed = [
        Placement(block.device, block.home, block.start or 0, block.length) for block in blocks
    ]
    io_map = IoMap(ask["areas"]["input"], ask["areas"]["output"], (*_fixed(ask), *placed))
    faults = []
    for each in io_map.outside():
        size = io_map.size(each.area)
        last = f"the {_NAMES[each.area]} area ends with byte {size - 1}."
        sentence = f"{each.device}: bytes {_span(each.span)} reach beyond; {last}"
        faults.append(_Fault("outside-area", frozenset([(each.device, each.area)]), sentence))
    for overlap in io_map.overlaps():
        owners = frozenset((device, overlap.area) for device in overlap.devices) & mine.keys()
        faults.append(_Fault("overlap", owners, f"{overlap}: every byte belongs to one device."))
    for each in placed:
        if each.first_byte % alignment:
            sentence = f"{each.device} starts at byte {each.first_byte} of the {_where(each)}, "
            sentence += f"not on a {_boundary(alignment)} boundary: take a multiple of {alignment}."
            faults.append(_Fault("off-boundary", frozenset([(each.device, each.area)]), sentence))
    # Advice to move up would be wrong as long as other blocks are to be moved anyway.
    if ask["packed"] and complete and not faults:
        for move in moves_down(io_map, mine.keys(), alignment):
            each = move.placement
            sentence = f"There is a gap in the {_where(each)}: {each.device} could start at byte "
            sentence += f"{move.to} instead of {each.first_byte}. The map is asked packed."
            faults.append(_Fault("gap", frozenset([(each.device, each.area)]), sentence))
    return faults


def _counts_elements(ask: IoMapAsk, blocks: list[_Block]) -> bool:
    """Whether the numbers would be right if they counted words (or double words).

    One of them off the boundary is wanted as a sign: a single misplaced block may look so too.
    """
    width = ask["alignment"]
    starts = [block.start for block in blocks]
    if None in starts or not any(start is not None and start % width for start in starts):
        return False
    as_bytes = [
        _Block(block.device, block.data, block.length, block.area, str((block.start or 0) * width))
        for block in blocks
    ]
    return not _faults(ask, as_bytes)


def _used(ask: IoMapAsk, blocks: list[_Block]) -> str:
    ends = {
        area: max(
            [
                *(p.span.stop for p in _fixed(ask) if _NAMES[p.area] == area),
                *((b.start or 0) + b.length for b in blocks if b.area == area),
                0,
            ]
        )
        for area in AREAS
    }
    used = " and ".join(
        f"{end} of {ask['areas'][area]} bytes of the {area} area"
        for area, end in ends.items()
        if end
    )
    return f"every device has bytes of its own; the map uses {used}."


def _starts(ask: IoMapAsk, right: Answer, first: _Block) -> list[int]:
    """Where other blocks of the same area start."""
    same_area = [block for block in _blocks(ask, right) if block.home is first.home]
    others = [block for block in same_area if block.owner != first.owner]
    fixed = [each.first_byte for each in _fixed(ask) if each.area is first.home]
    return [*(block.start or 0 for block in others), *fixed]


def _with(
    answer: Answer, block: _Block, *, area: str | None = None, at: str | None = None
) -> Answer:
    """The answer with one block's place changed."""
    old = answer[block.data][block.device]
    place: Place = {
        "area": old["area"] if area is None else area,
        "at": old["at"] if at is None else at,
    }
    return {**answer, block.data: {**answer[block.data], block.device: place}}


def _span(span: range) -> str:
    return str(span.start) if len(span) == 1 else f"{span.start} to {span.stop - 1}"


def _where(placement: Placement) -> str:
    return f"{_NAMES[placement.area]} area"


def _boundary(alignment: Alignment) -> str:
    return alignment.name.lower().replace("_", " ")
