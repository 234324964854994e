# ruff: noqa: E501
"""Mistakes that were made, or nearly, while the lab `drive_line` was written from the guide alone.

They are those of a lab with a table, a picture, a serial line and frames.
"""

from __future__ import annotations

from typing import Final

from beginners_mistakes import Mistake


def _d(what: str, old: str, new: str, *told: str, at: str = "", draws: int = 0) -> Mistake:
    return Mistake(what, old, new, told, at, lab="drive line", draws=draws)


_NAMES: Final = '  names: "[chosen[0].type, chosen[1].type, chosen[2].type, chosen[3].type]"'
_PLACES: Final = '  places: "[0, spacing, 2*spacing, 3*spacing, 4*spacing]"'
_SOURCE: Final = '"Ω, the usual terminator of an RS-485 line; common practice, no source"'
_S1: Final = 'right: "bit(address, 0) == 1"'
_SWAP: Final = "{id: swap, text: Exchange the drive.}"
_CRC: Final = (
    '{answer: "read_request(address, 3, register - first_register, 2)[6]", write: hex, digits: 2}'
)
_LINE: Final = "box: [12, 70, 36, 84]"
_PICTURE: Final = 'picture: "![The control board of a drive: terminals above, switches in the middle, terminals below](board.png)"'

MISTAKES: Final = (
    _d("formulas of a list without quotation marks", _NAMES, _NAMES.replace('"', ""),
       'names: "[chosen[0].type, chosen[1].type'),
    _d("a list of formulas that reads as one", _PLACES, _PLACES.replace('"', ""),
       'places: "[0, spacing, 2*spacing'),
    _d("a list of formulas in a group", 'terminators: {at: "[0, trunk]"', "terminators: {at: [0, trunk]",
       'at: "[0, trunk]"'),
    _d("a list of the network over lines", '    at: places', "    at:\n      - 0\n      - spacing", 'at: "[0, spacing]"', at="    at:"),
    _d("a formula with a comma between braces", _S1, "right: bit(address, 0) == 1", 'right: "bit(address, 0) == 1"'),
    _d("a formula with a comma alone between braces", _S1, "right: bit(address, 0)", 'right: "bit(address, 0)"'),
    _d("a formula with two commas between braces", _CRC, "{answer: number_of(read_request(address, 3, 1, 2)), write: hex, digits: 2}",
       'answer: "number_of(read_request(address, 3, 1, 2))"'),
    _d("a text in braces between braces", '{id: address, text: "Set address {{ address }}."}', "{id: address, text: Set address {{ address }}.}",
       'text: "Set address {{ address }}."'),
    _d("two commas in a source", _SOURCE, _SOURCE.strip('"'), _SOURCE),
    _d("a device's name in one kind of marks", "master: '\"controller\"'", 'master: "controller"',
       "'\"controller\"'"),
    _d("a device's name in one kind of marks in a group", "{at: '\"controller\"',", '{at: "controller",', "'\"controller\"'"),
    _d("a term's id that is a drawn name too", "answer: asked[1]\nterms:\n  - id: parity", "answer: rate\nterms:\n  - id: rate",
       "'\"rate\"'"),
    _d("a term's id alone", "answer: asked[1]\nterms:", "answer: parity\nterms:", "'\"parity\"'"),
    _d("a place's id that is a drawn name too", "answer: part\nmarks: 1", "answer: line\nmarks: 1", "'\"line\"'"),
    _d("half a register", "raw: round(setpoint / 100 * full_scale)", "raw: setpoint / 100 * full_scale", "round(", "ceil(", "floor(", at="answer: raw"),
    _d("two broken exercises: the second", "tell: Switch 1 counts 1.}", "tell: Switch 1, which counts 1.}", '"Switch 1, which counts 1."'),
    _d("a table that is not there", "drives: drives.csv", "drives: drive.csv", "drives.csv"),
    _d("a table with its folder", "drives: drives.csv", "drives: C:\\labs\\drives.csv", "drives.csv"),
    _d("a table without its ending", "drives: drives.csv", "drives: drives", "drives.csv"),
    _d("a row of what is no table", "{row of: drives, count: 4", "{row of: drive, count: 4", "drives"),
    _d("a row of a file", "{row of: drives, count: 4", "{row of: drives.csv, count: 4", "drives"),
    _d("more rows than there are", "{row of: drives, count: 4", "{row of: drives, count: 9", "6"),
    _d("a field by its heading", "{{ drive.type }} gets", "{{ drive.Type }} gets", "type"),
    _d("a field with its unit", "drive.rated_speed * setpoint", "drive.rated_speed_rpm * setpoint", "rated_speed"),
    _d("a field of all rows", "  drive: chosen[who]", "  drive: chosen", "drive[0].rated_speed", at="  speed:"),
    _d("a row counted from 1", "who: {from: 0, to: 3}", "who: {from: 1, to: 4}", "0", at="drive: chosen[who]", draws=40),
    _d("a picture that is not there", "(board.png)", "(bord.png)", "board.png"),
    _d("a picture without words", _PICTURE, "picture: board.png", "![", "](board.png)"),
    _d("a picture's words are empty", _PICTURE, 'picture: "![](board.png)"', "telephone"),
    _d("a picture's path", "(board.png)", "(pictures/board.png)", "beside"),
    _d("a place of two corners too few", _LINE, "box: [12, 70, 36]", "4"),
    _d("a place without brackets", "{id: line, name: terminals of the line, box: [12, 70, 36, 84], tell: That is the RS-485 line.}",
       "{id: line, name: terminals of the line, box: '12, 70, 36, 84'}", "[12, 70, 36, 84]"),
    _d("a place in pixels", _LINE, "box: [100, 360, 285, 410]", "per cent"),
    _d("a place upside down", _LINE, "box: [36, 84, 12, 70]", "left"),
    _d("a place in per cent signs", _LINE, "box: [12 %, 70 %, 36 %, 84 %]", "12"),
    _d("a place without box", ", " + _LINE, "", "box"),
    _d("a place too small for a finger", _LINE, "box: [12, 70, 13, 71]", "3"),
    _d("an answer by the place's name", "answer: part\nmarks: 1", "answer: '\"terminals of the line\"'\nmarks: 1", "line"),
    _d("a device without name", '["controller", names[0], names[1], names[2], names[3]]', '["controller", names[0], names[1], names[2]]', "device 4", at="    at: places"),
    _d("a master that is no device", "master: '\"controller\"'", "master: '\"scanner\"'", "scanner", "controller"),
    _d("a form that is none", "form: 8E1", "form: 8-E-1", "8E1"),
    _d("bias for polarization", "  polarization: {at", "  bias: {at", "polarization"),
    _d("termination for terminators", "  terminators: {at", "  termination: {at", "terminators"),
    _d("a blank written as a cell in hex", _CRC, "{answer: address, write: hexadecimal, digits: 2}", "hex"),
    _d("a row with a cell too few", '      - "00"\n      - "02"\n', '      - "02"\n', "8", at="  - cells:"),
    _d("hex digits as text", "{answer: address, write: hex, digits: 2}", "{answer: hex(address), write: hex, digits: 2}", "Leave hex()", at="      - {answer: hex(address)"),
    _d("frame bytes in one cell", _CRC, '{answer: "read_request(address, 3, register - first_register, 2)", write: hex, digits: 2}', "[0]", at='      - {answer: "read_request(address, 3, register - first_register, 2)", write'),
)  # fmt: skip
