"""A whole plan on paper: what is there as tables, and a form to fill in."""

from __future__ import annotations

from labkit.doors.plans import Site
from labkit.kinds.common import paper
from labkit.kinds.whole_plan.data import Answer, DeviceAnswer
from labkit.kinds.whole_plan.typed_plan import terminator_places


def site_table(site: Site) -> str:
    """The devices, and what is at hand."""
    rows = [
        [
            paper.text(each.name),
            f"{each.at:g}",
            f"{each.way:g}",
            f"{each.current:.2f}",
            str(each.input_bytes),
            str(each.output_bytes),
            str(each.reads_at) if each.input_bytes else "–",
            str(each.program_at) if each.output_bytes else "–",
        ]
        for each in site.devices
    ]
    heads = [
        "Device",
        "Tap at, m",
        "Way, m",
        "A",
        "Input bytes",
        "Output bytes",
        "Read from",
        "Written from",
    ]
    drops = ", ".join(f"{each:g}" for each in site.drops)
    ratings = ", ".join(f"{each:g}" for each in site.ratings)
    free = ", ".join(map(str, site.keep_free))
    rates = ", ".join(map(str, site.rates))
    words = (
        f"Scanner: {site.scanner}. At hand: data rates of {rates} kbit/s; drop cables of "
        f"{drops} m; supplies of {ratings} A."
    )
    if free:
        words += f" Node address to stay free: {free}."
    return paper.table(heads, rows, "", *["number"] * 7) + paper.note(words)


def plan_form(site: Site, answer: Answer | None) -> str:
    """The form, empty or filled in."""
    rows = [
        [paper.text(each.name), *(paper.filled(text) for text in _row(each.name, site, answer))]
        for each in site.devices
    ]
    heads = ["Device", "Address", "kbit/s", "Drop, m", "Listed", "Input bytes", "From byte",
             "Output bytes", "From byte"]  # fmt: skip
    trunk = [
        [
            f"Piece {number}, {piece.length:g} m",
            paper.filled(answer["cables"][number - 1]) if answer else paper.ticks(piece.cables),
        ]
        for number, piece in enumerate(site.pieces, 1)
    ]
    rest = [
        ["Supply, A", paper.filled(answer["rating"] if answer else "")],
        ["Supply at", paper.filled(answer["supply"] if answer else "")],
        ["Terminators", _terminators(site, answer)],
    ]
    return paper.table(heads, rows, "", *["fill tiny"] * 8) + paper.table(
        ["Part", "Planned"], [*trunk, *rest], "asked", "fill"
    )


def _terminators(site: Site, answer: Answer | None) -> str:
    if answer is None:
        return paper.ticks(terminator_places(site))
    return paper.filled(", ".join(answer["terminators"]))


def _row(name: str, site: Site, answer: Answer | None) -> list[str]:
    if answer is None:
        return [""] * 8
    row: DeviceAnswer = answer["devices"][name]
    if name == site.scanner:
        return [row["address"], row["rate"], row["drop"], *["–"] * 5]
    listed = "yes" if row["listed"] else "no"
    return [row["address"], row["rate"], row["drop"], listed, row["inputs"], row["first_in"],
            row["outputs"], row["first"]]  # fmt: skip
