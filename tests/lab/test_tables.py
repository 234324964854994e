"""Tables beside a lab: rows drawn, looked up, carried; what is wrong told at its file and line."""

import html
import io
import re
import zipfile
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from labkit.lab.draw import draw
from labkit.lab.reading import read_lab, read_lab_text
from labkit.lab.reading.lineage import files_of, has_digest
from labkit.lab.reading.sheet_file import MAX_UNPACKED
from labkit.language.expression import Prose
from labkit.language.problems import DefinitionError, Problem
from labkit.page.sheet import sheet_of as shown_page
from labkit.proofing import proof
from labkit.workbook.handout import Sheet, handouts
from labkit.workbook.notebook import notebook_data
from labkit.workbook.preview import preview_task

GUIDE = Path(__file__).parents[2] / "instructors" / "authoring.md"
LAB = """\
---
id: drives
version: 1.0
title: Drives
tables:
  drives: drives.csv
  cables: cables.csv
sources:
  least: {value: 2, source: invented for this test}
draw:
  drive: {row of: drives, where: current > least}
  spares: {row of: drives, count: 2, different: yes}
let:
  cable: row_at_least(cables, 'capacity', drive.current)
  thin: row_with(cables, 'size', 1.5)
---

## Look

The {{ drive.type }} takes {{ drive.current }} A; there are
{{ spares[0].type }} and {{ spares[1].type }}.

```exercise one
kind: quantity
title: One
question: Which size for {{ drive.current }} A? Not {{ thin.size }} mm.
answer: cable.size
unit: m
marks: 1
working: Up to {{ cable.capacity }} A.
```
"""
DRIVES = """\
# source: invented for this test
Type,Current [A]
Alder 1,1.5
Alder 2,4.75
Alder 3,12
"""
CABLES = """\
# source: invented for this test
size,capacity (A)
1.5,10
2.5,16
"""


def written(
    folder: Path, drives: str | bytes = DRIVES, lab: str = LAB, cables: str = CABLES
) -> Path:
    home = folder / "drives"
    home.mkdir(exist_ok=True)
    data = drives if isinstance(drives, bytes) else drives.encode()
    (home / "drives.csv").write_bytes(data)
    (home / "cables.csv").write_text(cables, "utf-8")
    (home / "lab.md").write_text(lab, "utf-8")
    return home / "lab.md"


def rows(folder: Path, drives: str | bytes) -> list[dict[str, float | int | str]]:
    return list(read_lab(written(folder, drives)).tables["drives"].rows)


def problem(folder: Path, drives: str | bytes = DRIVES, lab: str = LAB) -> Problem:
    with pytest.raises(DefinitionError) as told:
        read_lab(written(folder, drives, lab))
    return told.value.problems[0]


def test_whole_rows_are_drawn_and_looked_up(tmp_path: Path) -> None:
    lab = read_lab(written(tmp_path))
    drawn = [draw(lab, f"seed {seed}") for seed in range(20)]
    assert {one.names["drive"]["type"] for one in drawn} == {"Alder 2", "Alder 3"}
    assert {one.names["cable"]["size"] for one in drawn} == {1.5, 2.5}
    for one in drawn:
        first, second = one.names["spares"]
        assert first != second
        assert one.drawn == draw(read_lab(lab_file(tmp_path)), one.seed).drawn
    assert lab.tables["drives"].source == "invented for this test"


def lab_file(folder: Path) -> Path:
    return folder / "drives" / "lab.md"


def test_a_changed_table_is_a_changed_lab_and_is_carried(tmp_path: Path) -> None:
    path = written(tmp_path)
    digest = read_lab(path).digest
    assert has_digest(path, digest)
    assert files_of(path)["drives", "drives.csv"] == DRIVES.encode()
    written(tmp_path, DRIVES.replace("4.75", "4.8"))
    assert read_lab(path).digest != digest
    assert not has_digest(path, digest)


def test_a_lab_on_top_brings_another_table(tmp_path: Path) -> None:
    written(tmp_path)
    home = tmp_path / "pumps"
    home.mkdir()
    child = (
        "---\nextends: drives\nid: pumps\nversion: 1.0\ntitle: Pumps\n"
        "tables: {drives: pumps.csv}\n---\n"
    )
    (home / "lab.md").write_text(child, "utf-8")
    (home / "pumps.csv").write_text(DRIVES.replace("Alder", "Birch"), "utf-8")
    lab = read_lab(home / "lab.md")
    assert draw(lab, "a").names["drive"]["type"].startswith("Birch")
    assert ("drives", "cables.csv") in files_of(home / "lab.md")


def test_proof_reads_such_a_lab(tmp_path: Path) -> None:
    rule = "valid:\n  - {rule: drive.current > 5 and spares | length == 2, because: x}\nlet:"
    report = proof(read_lab(written(tmp_path, lab=LAB.replace("let:", rule))), 30)
    assert report.drawn == 30
    assert "least" not in [getattr(finding, "name", "") for finding in report.findings]


@pytest.mark.parametrize(
    "drives",
    [
        DRIVES.replace(",", ";").replace("4.75", "4,75").replace("1.5", "1,5"),
        DRIVES.replace(",", "\t"),
        "\ufeff" + DRIVES.replace("\n", "\r\n"),
        DRIVES.encode("utf-16"),
        DRIVES.replace("# source: invented", '"# source: invented').replace("test\n", 'test",\n'),
        DRIVES + ",\n\n",
        DRIVES.replace("Alder 1", '"Alder 1"'),
    ],
)
def test_as_office_programs_save_it(tmp_path: Path, drives: str | bytes) -> None:
    assert rows(tmp_path, drives) == [
        {"type": "Alder 1", "current": 1.5},
        {"type": "Alder 2", "current": 4.75},
        {"type": "Alder 3", "current": 12},
    ]


def test_western_letters_and_cells_of_several_lines(tmp_path: Path) -> None:
    found = rows(tmp_path, DRIVES.replace("Alder 1", '"Größe, 1\nµ"').encode("cp1252"))
    assert found[0]["type"] == "Größe, 1\nµ"
    below = DRIVES.replace("Alder 1", '"Alder\n1"').replace("4.75", "much")
    assert problem(tmp_path, below).place.line == 5


def test_a_column_may_say_that_it_is_text(tmp_path: Path) -> None:
    text = "# source: x\nType [text],Current [A]\n12,3\n"
    assert rows(tmp_path, text) == [{"type": "12", "current": 3}]


@pytest.mark.parametrize(
    ("old", "new", "line", "field", "message", "mend"),
    [
        ("4.75", "much", 4, "Current [A]", "'much' is no number", "[text]"),
        ("4.75", "4.75 A", 4, "Current [A]", "unit stands in the heading", "Write 4.75 alone"),
        ("4.75", "", 4, "Current [A]", "empty", "take the row out"),
        ("4.75", "=B3*2", 4, "Current [A]", "formula of an office program", "its value"),
        ("4.75", '"4,750"', 4, "Current [A]", "4,750", ""),
        ("4.75", "4.75,9", 4, "", "3 cells, the heading 2", "quotation"),
        ("Alder 2", '"Alder 2', 4, "", "quotation mark", "quotation"),
        ("# source: invented for this test\n", "", 1, "", "where its values come from", "# source"),
        ("Type", "Current", 2, "", "two columns are called 'current'", "another name"),
        ("Type", "items", 2, "", "'items' cannot be the name", "another word"),
        ("Type", "1st", 2, "", "gives no name", "letter"),
        (DRIVES, "# source: x\nType,Current [A]\n", 2, "", "no rows", "below the heading"),
        (DRIVES, "", 1, "", "empty", "heading"),
        (DRIVES, "PK\0\0", 1, "", "no table", "CSV"),
        ("Alder 2", "x" * 501, 4, "Type", "500 characters", "Shorten"),
        ("Alder 1,1.5\n", "Alder 1,1.5\n" * 5001, 2, "", "10000 cells", "Keep"),
    ],
)
def test_what_is_wrong_is_told_at_its_line(
    tmp_path: Path, old: str, new: str, line: int, field: str, message: str, mend: str
) -> None:
    told = problem(tmp_path, DRIVES.replace(old, new, 1))
    assert (told.place.file, told.place.line) == ("drives/drives.csv", line)
    assert told.place.field == field
    assert message in told.message
    assert mend in told.mend


def test_a_point_before_three_digits_has_two_readings_beside_semicolons(tmp_path: Path) -> None:
    told = problem(tmp_path, DRIVES.replace(",", ";").replace("4.75", "4.750"))
    assert "two ways" in told.message
    assert "4750" in told.mend


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("../drives.csv", "does not lie beside"),
        ("/etc/hosts", "does not lie beside"),
        ("drives.xls", "in a format that is not read here"),
        ("Drives.csv", "is not there"),
        ("drives.txt", "cannot name a table"),
        ("link.csv", "no file of its own"),
        ("folder.csv", "no file of its own"),
        ("large.csv", "more than 1 MB"),
    ],
)
def test_files_of_a_stranger(tmp_path: Path, name: str, message: str) -> None:
    home = written(tmp_path).parent
    (home / "link.csv").symlink_to(home / "cables.csv")
    (home / "folder.csv").mkdir()
    (home / "large.csv").write_bytes(b"a" * 1_000_001)
    told = problem(tmp_path, lab=LAB.replace("drives.csv", name))
    assert message in told.message
    assert told.mend
    assert told.place.line == 6


@pytest.mark.parametrize(
    ("old", "new", "message", "line"),
    [
        ("row of: drives, where", "row of: drive, where", "no table 'drive'", 11),
        ("current > least", "curent > least", "curent", 11),
        ("current > least", "current > 99", "no row of the table", 11),
        ("row of: drives, count", "row of: drives, one of: [1], count", "both 'row of'", 12),
        ("row of: drives, where: current > least", "one of: [1], where: 1 > 0", "'where'", 11),
        ("  drive: {", "  cables: {", "is there under 'tables'", 11),
    ],
)
def test_mistakes_in_the_header(
    tmp_path: Path, old: str, new: str, message: str, line: int
) -> None:
    told = problem(tmp_path, lab=LAB.replace(old, new, 1))
    assert message in told.message
    assert told.place.line == line


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("drive.current)", "99)", "no row of the table has 99 or more in its field 'capacity'"),
        ("'size', 1.5", "'size', 9", "no row of the table has 9 in its field 'size'"),
        ("let:\n", "let:\n  odd: row_at_least(drives, 'type', 1)\n", "holds text"),
        ("row_with(cables", "row_with([1]", "no table"),
    ],
)
def test_what_is_not_there_is_told_when_it_is_looked_up(
    tmp_path: Path, old: str, new: str, message: str
) -> None:
    lab = read_lab(written(tmp_path, lab=LAB.replace(old, new, 1)))
    with pytest.raises(DefinitionError) as told:
        draw(lab, "a")
    assert message in str(told.value)
    assert told.value.problems[0].place.line in (14, 15)


@pytest.mark.parametrize(
    ("old", "new", "line", "message", "mend"),
    [
        ("'size', 1.5", "'sise', 1.5", 15, "no field 'sise'", "Did you mean 'size'?"),
        ("drive.current)", "drive.curent)", 14, "no field 'curent'", "Did you mean 'current'?"),
        ("{{ drive.type }}", "{{ drive.tpe }}", 20, "no field 'tpe'", "Did you mean 'type'?"),
        ("spares[1].type", "spares[1].typ", 21, "no field 'typ'", "Did you mean 'type'?"),
        ("spares[0].type", "spares.type", 21, "'spares' is a list of rows", "spares[0].type"),
        ("spares[0].type", "drives.type", 21, "'drives' is a list of rows", "drives[0].type"),
        ("cable.size", "cable.weight", 27, "no field 'weight'", "Known here: capacity, size."),
        ("cable.size", "row_with(cables, 'size', 2.5).mass", 27, "no field 'mass'", "Known here"),
        (
            "{{ spares[1].type }}",
            "{% for one in spares %}{{ one.tpye }}{% endfor %}",
            21,
            "no field 'tpye'",
            "Did you mean 'type'?",
        ),
    ],
)
def test_a_field_that_no_row_has_is_told_when_it_is_read(
    tmp_path: Path, old: str, new: str, line: int, message: str, mend: str
) -> None:
    told = problem(tmp_path, lab=LAB.replace(old, new, 1))
    assert told.place.line == line
    assert message in told.message
    assert mend in told.mend


@pytest.mark.parametrize(
    "shown",
    [
        "{% for name, value in drive.items() %}{{ name }}{% endfor %}",
        "{{ drive.get('type') }}{{ drives.count(drive) }}",
        "{% for one in drives %}{{ one.type }}{% endfor %}"
        "{% for one in cables %}{{ one.size }}{% endfor %}",
        "{% for drives in [1] %}{{ drives }}{% endfor %}",
        "{% for drive in cables %}{{ drive.size }}{% endfor %}{{ drive.type }}",
        "{{ spares[-1].type }} {{ spares[0]['type'] }} {{ drives[1:][0].type }}",
    ],
)
def test_what_rows_can_do_besides_is_read(tmp_path: Path, shown: str) -> None:
    lab = read_lab(written(tmp_path, lab=LAB.replace("{{ drive.type }}", shown)))
    scenario = draw(lab, "a")
    assert all(part.render(scenario.names) for part in lab.body if isinstance(part, Prose))


@pytest.mark.parametrize(
    ("heading", "name"),
    [
        ("Länge [m]", "laenge"),
        ("La\u0308nge [m]", "laenge"),
        ("Größe", "groesse"),
        ("Débit (l/min)", "debit"),
        ('"Current,\nrated [A]"', "current_rated"),
        ("I₁ [A]", "i1"),
    ],
)
def test_letters_of_other_languages_give_a_name_of_letters_a_to_z(
    tmp_path: Path, heading: str, name: str
) -> None:
    table = CABLES.replace("capacity (A)", heading)
    lab = LAB.replace("'capacity'", f"'{name}'").replace("cable.capacity", f"cable.{name}")
    assert tuple(read_lab(written(tmp_path, lab=lab, cables=table)).tables["cables"].fields) == (
        "size",
        name,
    )


@pytest.mark.parametrize(
    ("heading", "message", "mend"),
    [
        ("Current [Amper]", "'Amper' is not a unit", "Did you mean 'A'?"),
        ("Current [kbit]", "'kbit' is not a unit", "without brackets"),
        ("Current (rated)", "'rated' is not a unit", "without brackets"),
        ("Current [mhm]", "'mhm' is not a unit", "Did you mean"),
        ("Ток [A]", "'Ток [A]' gives no name", "'column 2 [A]'"),
        ("Ø", "'Ø' gives no name", "'column 2'"),
    ],
)
def test_a_heading_that_cannot_be_used_is_told_with_one_that_can(
    tmp_path: Path, heading: str, message: str, mend: str
) -> None:
    told = problem(tmp_path, DRIVES.replace("Current [A]", heading))
    assert (told.place.line, message in told.message) == (2, True)
    assert mend in told.mend


UNITS = LAB.replace("answer: cable.size", "answer: VALUE").replace("unit: m\n", "unit: UNIT\n")


@pytest.mark.parametrize(
    ("value", "unit", "mend"),
    [
        ("drive.current", "V", "unit: A"),
        ("drive.current", "mA", "unit: A"),
        ("spares[0].current", "ohm", "unit: A"),
        ("row_with(cables, 'size', 1.5).capacity", "m", "unit: A"),
        ("thick", "V", "unit: A"),
    ],
)
def test_a_unit_that_is_not_the_columns_is_told(
    tmp_path: Path, value: str, unit: str, mend: str
) -> None:
    lab = UNITS.replace("VALUE", value).replace("UNIT", unit)
    lab = lab.replace("let:\n", "let:\n  thick: row_with(cables, 'size', 2.5).capacity\n")
    told = problem(tmp_path, lab=lab)
    assert (told.place.line, told.place.field) == (29, "exercise 'one': unit")
    assert "column in A" in told.message
    assert mend in told.mend


@pytest.mark.parametrize(
    ("value", "unit"),
    [
        ("drive.current", "amps"),
        ("drive.current", "''"),
        ("drive.current * 1000", "mA"),
        ("cable.size", "mm"),
    ],
)
def test_a_unit_that_may_be_right_is_read(tmp_path: Path, value: str, unit: str) -> None:
    lab = read_lab(written(tmp_path, lab=UNITS.replace("VALUE", value).replace("UNIT", unit)))
    assert lab.exercises


def test_a_unit_of_another_name_that_is_as_much_is_read(tmp_path: Path) -> None:
    lab = UNITS.replace("VALUE", "drive.current").replace("UNIT", "kbit/s")
    assert read_lab(written(tmp_path, DRIVES.replace("[A]", "[kBd]"), lab=lab))


def test_a_cell_of_a_table_to_fill_in_is_held_to_the_columns_unit_too(tmp_path: Path) -> None:
    cells = "columns: [A]\nrows:\n  - cells: [{answer: drive.current, unit: V}]\n"
    lab = UNITS.replace("answer: VALUE\nunit: UNIT\n", cells).replace("quantity", "table")
    assert "column in A" in problem(tmp_path, lab=lab).message


def test_the_sources_of_tables_are_shown_behind_all_else(tmp_path: Path) -> None:
    source = "data sheets <b>{{ drive.x }}</b>, page_1_"
    lab = read_lab(written(tmp_path, DRIVES.replace("invented for this test", source)))
    scenario = draw(lab, "a")
    told = html.escape(source)
    assert shown_page(scenario)["after"][-1]["html"].endswith(
        f"<ul>\n<li>drives: {told}</li>\n<li>cables: invented for this test</li>\n</ul>"
    )
    assert f"<li>drives: {told}</li>" in handouts([Sheet(scenario)]).decode()
    task = preview_task(scenario, workbook="w", practice=True)
    cells = notebook_data(scenario, task, task_file="t.json")["cells"]
    assert "page\\_1\\_" in cells[-2]["source"]


def test_a_source_has_a_length(tmp_path: Path) -> None:
    told = problem(tmp_path, DRIVES.replace("invented", "x" * 500))
    assert (told.place.line, told.message) == (1, "the source has more than 500 characters.")
    assert told.mend


def test_proof_tells_a_table_that_nothing_uses(tmp_path: Path) -> None:
    more = "  spare: cables.csv\n  searched: cables.csv\n  shown: cables.csv\n"
    more += "  chosen: cables.csv\n"
    lab = LAB.replace("sources:", f"{more}sources:").replace("(cables", "(searched")
    lab = lab.replace("draw:\n", "draw:\n  lot: {row of: chosen, where: size > least}\n")
    lab = lab.replace("Not {{", "{% for one in shown %}{{ one.size }}{% endfor %} Not {{")
    findings = proof(read_lab(written(tmp_path, lab=lab)), 5).findings
    unused = [each for each in findings if each.id == "unused"]
    assert [(each.of, each.place.line) for each in unused] == [
        ("cables", 7),
        ("spare", 8),
        ("lot", 15),
    ]
    assert unused[0].place.field == "tables → cables"
    assert "'cables' is not used" in unused[0].sentence


def test_a_text_that_is_nothing_but_a_comment_is_read(tmp_path: Path) -> None:
    lab = LAB.replace("## Look", "{# later #}\n\n```picture\n```\n\n## Look").replace(
        "```picture\n```\n\n", LAB[LAB.index("```exercise") :].replace("one", "two", 1)
    )
    assert len(read_lab(written(tmp_path, lab=lab)).exercises) == 2


def test_a_text_without_a_folder_has_no_tables() -> None:
    with pytest.raises(DefinitionError, match="is not there"):
        read_lab_text(LAB)


def test_the_functions_are_there_for_labs_with_tables_alone() -> None:
    lab = LAB[: LAB.index("tables:")] + "let: {row_with: 1}\n" + LAB[LAB.index("---\n\n") :]
    whole = lab[: lab.index("## Look")] + lab[lab.index("```exercise") :]
    text = whole.replace("cable.size", "row_with").replace("{{", "<").replace("}}", ">")
    assert draw(read_lab_text(text), "a").names["row_with"] == 1


def test_the_example_of_the_guide_draws_and_looks_up(tmp_path: Path) -> None:
    section = GUIDE.read_text("utf-8").split("## Tables\n")[1].split("\n## ")[0]
    table, header = (part.split("```")[0] for part in re.split(r"```(?:csv|yaml)\n", section)[1:])
    head = LAB.split("tables:")[0]
    exercise = LAB[LAB.index("```exercise") :]
    exercise = exercise.replace("cable.size", "fitting.current").replace("thin.size", "heavy")
    exercise = exercise.replace("cable.capacity", "spares[0].mass").replace("unit: m", "unit: A")
    (tmp_path / "lab.md").write_text(f"{head}{header}---\n\n{exercise}", "utf-8")
    (tmp_path / "drives.csv").write_text(table, "utf-8")
    lab = read_lab(tmp_path / "lab.md")
    drawn = [draw(lab, str(seed)).names for seed in range(20)]
    assert {each["drive"]["type"] for each in drawn} == {"Alder 2", "Alder 3"}
    assert {each["drive"]["current"] for each in drawn} == {4.75, 12}
    assert all(each["spares"][0] != each["spares"][1] for each in drawn)
    assert (drawn[0]["fitting"]["type"], drawn[0]["heavy"]) == ("Alder 2", 11)


def sheet_of(text: str) -> bytes:
    """The cells of a CSV table as an office program saves them in a sheet."""
    book = openpyxl.Workbook()
    sheet: Any = book.worksheets[0]
    for line in text.splitlines():
        sheet.append([_typed(cell) for cell in line.split(",")])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _typed(cell: str) -> str | float:
    try:
        return float(cell)
    except ValueError:
        return cell


def with_sheet(folder: Path, data: bytes) -> Path:
    """The lab with its drives in a sheet."""
    text = LAB.replace("drives: drives.csv", "drives: drives.xlsx")
    (folder / "lab.md").write_text(text, "utf-8")
    (folder / "drives.xlsx").write_bytes(data)
    (folder / "cables.csv").write_text(CABLES, "utf-8")
    return folder / "lab.md"


def test_a_sheet_holds_the_same_rows_as_a_csv_file(tmp_path: Path) -> None:
    lab = read_lab(with_sheet(tmp_path, sheet_of(DRIVES)))
    assert list(lab.tables["drives"].rows) == rows(tmp_path, DRIVES)
    assert lab.tables["drives"].source == "invented for this test"


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (sheet_of(DRIVES.replace("4.75", "=2+3")), "line 4, field 'Current [A]': '=2+3' is a"),
        (sheet_of(DRIVES.replace("4.75", "four")), "line 4, field 'Current [A]': 'four' is no"),
        (sheet_of(DRIVES)[:900], "the sheet is damaged"),
        (b"PK\x03\x04 and nothing else", "the sheet is damaged"),
        (sheet_of(DRIVES.replace("# source: invented for this test\n", "")), "does not say where"),
        (sheet_of("# source: x\n" + "a,b,c\n" * 5000), "more than 10000 cells"),
    ],
)
def test_what_is_wrong_in_a_sheet_is_told_at_its_row(
    tmp_path: Path, data: bytes, said: str
) -> None:
    with pytest.raises(DefinitionError) as raised:
        read_lab(with_sheet(tmp_path, data))
    assert said in str(raised.value.problems[0])


def test_a_sheet_that_unpacks_to_too_much_is_not_unpacked(tmp_path: Path) -> None:
    packed = io.BytesIO(sheet_of(DRIVES))
    with zipfile.ZipFile(packed, "a", zipfile.ZIP_DEFLATED) as more:
        more.writestr("xl/worksheets/more.xml", bytes(MAX_UNPACKED))
    assert len(packed.getvalue()) < 100_000
    with pytest.raises(DefinitionError, match="unpacks to more"):
        read_lab(with_sheet(tmp_path, packed.getvalue()))


def test_a_row_that_has_just_as_much_is_enough(tmp_path: Path) -> None:
    lab = LAB.replace("'capacity', drive.current)", "'capacity', 10)")
    assert draw(read_lab(written(tmp_path, lab=lab)), "one").names["cable"]["size"] == 1.5
