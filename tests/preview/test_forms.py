"""Forms of a preview: what they write, what they tell, to whom they listen; without a browser."""

from __future__ import annotations

import json
import os
import stat
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient
from written_lab import TEXT, Author, author_at

from labkit.lab.reading.definition_file import definition_bytes
from labkit.preview import form_desk as desk_module
from labkit.preview.app import PreviewApp
from labkit.preview.shown_lines import hunks

PUTTING = "labkit.lab.editing.put_in_place"
HERE = "http://127.0.0.1:8650"


class Page:
    """The preview's own page."""

    def __init__(self, author: Author) -> None:
        self.author = author
        served = PreviewApp(author.previewed)
        self.client = TestClient(served.app, base_url=f"{HERE}/{served.key}/")
        self.key = served.key

    @property
    def told(self) -> dict[str, Any]:
        """What the page hears with each news."""
        return dict(self.client.get("desk").json()["form"])

    @property
    def headers(self) -> dict[str, str]:
        """Those of this page."""
        token = self.told["token"]
        return {"origin": HERE, "content-type": "application/json", "labkit-form": token}

    def form(self, exercise: str) -> dict[str, Any]:
        """The form of an exercise, or why there is none."""
        return dict(self.client.get("form", params={"exercise": exercise}).json())

    def post(self, path: str, said: object, **headers: str) -> Any:
        """The answer of the preview."""
        return self.client.post(path, content=json.dumps(said), headers=self.headers | headers)

    def lines(self, said: dict[str, Any]) -> dict[str, Any]:
        """What would be written."""
        return dict(self.post("form/lines", said).json())

    def write(self, said: dict[str, Any]) -> dict[str, Any]:
        """Look at the lines and write them."""
        shown = self.lines(said)
        return dict(self.post("form/write", {**said, "shown": shown["shown"]}).json())

    def undo(self) -> Any:
        """Take back what this page was told of last."""
        return self.post("form/undo", {"of": self.told["of"]})

    @property
    def text(self) -> str:
        """The file now."""
        return self.author.file.read_bytes().decode()


def test_what_is_needed_is_not_said_to_be_left_out(page: Page) -> None:
    empty = dict.fromkeys(("title", "question", "picture", "answer", "marks", "working"), "")
    found = page.lines(
        {"do": "add", "of": page.told["of"], "kind": "spot", "values": empty, "after": -1, "id": ""}
    )
    mends = {problem["field"].split(": ")[-1]: problem["mend"] for problem in found["problems"]}
    assert mends["picture"] == "Write something: it is needed."
    assert not [mend for mend in mends.values() if "leave the line out" in mend]
    with_hint = empty | {"accepted": [{"was": None, "now": {"finding": "", "because": ""}}]}
    found = page.lines(
        {"do": "add", "of": page.told["of"], "kind": "spot", "values": with_hint, "after": -1}
    )
    assert any("needed" in problem["mend"] for problem in found["problems"])


@pytest.fixture
def page(author: Author) -> Page:
    return Page(author)


def change(page: Page, exercise: str, **fields: Any) -> dict[str, Any]:
    form = page.form(exercise)
    values = form["values"] | fields
    return {"do": "change", "exercise": exercise, "of": form["of"], "values": values}


def test_a_field_is_changed_as_it_was_shown_and_the_change_is_undone(page: Page) -> None:
    said = change(page, "taps", title="All taps: how long?")
    shown = page.lines(said)
    assert (shown["problems"], shown["elsewhere"]) == ([], [])
    (hunk,) = shown["hunks"]
    assert [line for line in hunk["lines"] if line[0] != " "] == [
        ["-", "title: The taps"],
        ["+", "title: 'All taps: how long?'"],
    ]
    assert page.text == TEXT
    done = page.write(said)
    assert page.text == TEXT.replace("title: The taps", "title: 'All taps: how long?'")
    assert done["what"] == "'The taps' changed"
    # Who wrote knows it before the pages are told.
    assert page.told["of"] == done["of"] == page.form("taps")["of"]
    assert page.told["undo"] == done["undo"] is not None
    assert page.told["undo"]["what"] == done["what"]
    assert page.undo().status_code == 200
    assert page.text == TEXT
    assert page.told["undo"] is None
    assert page.undo().json()["told"] == ["There is nothing to undo."]


TAKEN = "\n```exercise one-more\nfrom: other/loop 1.0\ngiven: {metres: length}\n```\n"


@pytest.fixture
def beside(author: Author) -> Path:
    """Another lab, beside the one that is shown."""
    other = author.file.parent.parent / "other" / "lab.md"
    other.parent.mkdir()
    text = TEXT.replace("id: small", "id: other").replace("title: A small", "title: Another")
    text = text.replace("both_ways", "twice").replace("length", "metres")
    other.write_text(text, encoding="utf-8")
    return other


def test_an_exercise_that_is_taken_has_a_form_of_what_may_be_another_here(
    author: Author, beside: Path
) -> None:
    author.file.write_text(TEXT + TAKEN, encoding="utf-8")
    page = Page(author)
    form = page.form("one-more")
    assert form["values"] == {"from": "other/loop 1.0", "given": {"lines": "{metres: length}"}}
    fields = {field["name"]: field for field in form["fields"]}
    assert [*fields][:4] == ["from", "given", "title", "question"]
    assert {"marks", "working", "tolerance"} <= fields.keys()
    assert [name for name, field in fields.items() if field["needed"]] == ["from"]
    said = change(page, "one-more", title="The loop here", marks="2")
    assert page.lines(said)["problems"] == page.lines(said)["elsewhere"] == []
    page.write(said)
    added = "given: {metres: length}\ntitle: The loop here\nmarks: 2\n"
    assert page.text == TEXT + TAKEN.replace("given: {metres: length}\n", added)
    page.write(change(page, "one-more", title="", marks=""))
    assert page.text == TEXT + TAKEN
    wrong = page.lines(change(page, "one-more", marks="-1"))["problems"]
    assert [each["path"] for each in wrong] == [["marks"]]
    beside.unlink()  # the form stays, with the fields that every kind has
    fewer = {field["name"] for field in page.form("one-more")["fields"]}
    assert {"from", "title", "marks"} <= fewer
    assert "tolerance" not in fewer


@pytest.mark.usefixtures("beside")
def test_an_exercise_is_found_in_other_labs_and_taken(page: Page) -> None:
    found = page.client.get("form/take", params={"find": "loop another"}).json()
    [each] = found["found"]
    assert (each["line"], each["title"], each["kind"]) == ("other/loop 1.0", "The loop", "quantity")
    assert each["where"] == "Another lab, Lengths"
    assert each["needs"] == ["metres", "twice"]
    form = page.client.get("form", params={"from": each["line"]}).json()
    assert form["values"] == {"from": "other/loop 1.0"}
    said = {"do": "add", "of": form["of"], "kind": form["kind"], "id": "", "after": -1}
    values = {**form["values"], "title": "Taken", "given": {"lines": "metres: length"}}
    lines = page.lines({**said, "values": values, "id": "taken-one"})
    assert lines["problems"] == lines["elsewhere"] == []
    page.write({**said, "values": values, "id": "taken-one"})
    block = "from: other/loop 1.0\ngiven:\n  metres: length\ntitle: Taken\n```\n"
    assert f"```exercise taken-one\n{block}" in page.text
    said["of"] = page.told["of"]
    done = page.write({**said, "values": {"from": "other/loop 1.0"}})
    assert done["exercise"] == "loop-2"  # the id that it has there, where that is free


def test_a_form_tells_the_names_that_formulas_may_use(page: Page) -> None:
    assert page.form("loop")["names"] == [{"of": "", "names": "both_ways, length, taps"}]
    folder = page.author.file.parent
    (folder / "drives.csv").write_text("# source: invented\nType,Power [kW]\nA,2\nB,3\n", "utf-8")
    drawn = "tables: {drives: drives.csv}\ndraw:\n  drive: {row of: drives}\n"
    page.author.file.write_text(TEXT.replace("draw:\n", drawn), encoding="utf-8")
    new = page.client.get("form", params={"kind": "quantity"}).json()["names"]
    assert new[0]["names"] == "both_ways, drive, length, taps"
    assert new[1] == {"of": "a row of drives", "names": "type, power"}
    page.author.file.write_text(TEXT.replace("version: 1.0", "version: one"), encoding="utf-8")
    assert page.client.get("form", params={"kind": "quantity"}).json()["names"] == []


def test_an_id_is_told_as_a_form_takes_it_and_as_the_file_does(page: Page) -> None:
    values: dict[str, Any] = {
        "title": "Which?",
        "question": "Which?",
        "marks": "1",
        "working": "So.",
    }
    ends = [{"was": None, "now": {"id": each, "text": each, "tell": "No."}} for each in ("a", "b")]
    values |= {"options": ends, "answer": "a"}
    said = {"do": "add", "of": page.told["of"], "kind": "choice", "id": "", "after": -1}
    [told] = page.lines({**said, "values": values})["problems"]
    assert told["path"] == ["answer"]
    assert 'is "a"; ' in told["mend"]
    assert "'\"a\"'" in told["mend"]
    assert page.lines({**said, "values": values | {"answer": '"a"'}})["problems"] == []


LINE = """\
network:
  family: modbus
  rate: 9600
  trunk: length
  taps: {at: '[0]', derivation: '[0]', device: '["a"]'}
let:
"""


def test_exercises_about_another_kind_of_network_come_last(author: Author) -> None:
    author.file.write_text(TEXT.replace("let:\n", LINE), encoding="utf-8")
    found = Page(author).client.get("form/take", params={"find": "terminator"}).json()["found"]
    fits = [each["fits"] for each in found]
    assert {True, False} == set(fits)
    assert fits == sorted(fits, reverse=True)
    author.file.write_text(TEXT, encoding="utf-8")
    found = Page(author).client.get("form/take", params={"find": "terminator"}).json()["found"]
    assert all(each["fits"] for each in found)


def test_exercises_of_a_lab_that_this_one_extends_are_there_already(
    author: Author, beside: Path
) -> None:
    find = {"find": "loop another"}
    assert len(Page(author).client.get("form/take", params=find).json()["found"]) == 1
    header = "---\nextends: other\nid: small\nversion: 1.0\ntitle: On top\n---\n"
    author.file.write_text(header, encoding="utf-8")
    assert beside.exists()
    assert Page(author).client.get("form/take", params=find).json()["found"] == []


@pytest.mark.usefixtures("beside")
def test_nothing_found_is_told_with_what_may_be_meant(page: Page) -> None:
    def told(words: str) -> dict[str, Any]:
        return dict(page.client.get("form/take", params={"find": words}).json())

    assert told("anothr") == {
        "found": [],
        "more": 0,
        "said": "No exercise has all of these words. Did you mean 'another' for 'anothr'?",
    }
    assert told("  ") == {"found": [], "more": 0, "said": ""}
    assert [each["line"] for each in told("small loop")["found"]] == []  # none of its own


def test_a_lab_that_is_written_anew_is_searched_as_it_is_now(page: Page, beside: Path) -> None:
    def found() -> list[str]:
        answer = page.client.get("form/take", params={"find": "another"}).json()
        return [each["line"] for each in answer["found"] if each["line"].startswith("other/")]

    assert "other/loop 1.0" in found()
    beside.write_text(beside.read_text("utf-8").replace("version: 1.0", "version: 1.0.1"), "utf-8")
    assert "other/loop 1.0.1" in found()
    beside.write_text("no lab", "utf-8")
    assert found() == []


def test_an_exercise_is_added_copied_and_moved(page: Page) -> None:
    form = page.client.get("form", params={"kind": "choice"}).json()
    options = [
        {"was": None, "now": {"id": name, "text": f"{name}?", "tell": "No."}} for name in ("a", "b")
    ]
    values = {
        "title": "Which end?",
        "question": "Which?",
        "answer": '"a"',
        "options": options,
        "marks": "1",
        "working": "So.",
    }
    titles = [place["title"] for place in form["places"]]
    after = titles.index("The loop")
    said = {
        "do": "add",
        "kind": "choice",
        "of": form["of"],
        "after": after,
        "id": "",
        "values": values,
    }
    assert page.lines(said)["problems"] == []
    assert page.write(said)["exercise"] == "which-end"
    block = page.text.partition("```exercise which-end\n")[2].partition("```")[0]
    assert block.startswith("kind: choice\ntitle: Which end?\nquestion: Which?\nanswer: '\"a\"'\n")
    assert page.text.replace(f"```exercise which-end\n{block}```\n\n", "") == TEXT

    copy = {"do": "copy", "exercise": "which-end", "of": page.told["of"], "id": ""}
    assert page.write(copy)["exercise"] == "which-end-2"
    assert page.text.count(block) == 2
    two = page.text

    at = page.form("which-end-2")["at"]
    move = {"do": "move", "exercise": "which-end-2", "of": page.told["of"], "after": -1}
    assert page.write(move)["exercise"] == "which-end-2"
    assert page.text.index("which-end-2") < page.text.index("# Lengths")
    page.author.previewed.watched.changed()
    page.author.previewed.read_again()
    assert [*page.author.kinds][:3] == ["which-end-2", "loop", "which-end"]
    back = {**move, "of": page.told["of"], "after": at}
    assert page.write(back)["exercise"] == "which-end-2"
    assert page.text == two
    stays = {**move, "of": page.told["of"], "after": at - 1}
    assert page.lines(stays)["told"] == ["It stands there already."]


@pytest.mark.parametrize(
    ("fields", "path", "sentence"),
    [
        ({"answer": "lenght"}, ["answer"], "'lenght' is not a name of this lab"),
        ({"marks": "two"}, ["marks"], "'two' is not a number"),
        ({"question": ""}, ["question"], "'question' is empty"),
        ({"unit": "furlong"}, ["unit"], "'furlong'"),
        ({"answer": "1 / (taps - taps)"}, ["answer"], "divide"),
        ({"title": "It is {{ lengt }} m"}, ["title"], "'lengt'"),
        (
            {"hints": [{"was": None, "now": {"text": "a"}}, {"was": None, "now": {"text": ""}}]},
            ["hints", 1, "text"],
            "is empty",
        ),
        (
            {"hints": [{"was": None, "now": {"text": "Think.", "costs": "5"}}]},
            ["hints"],
            "cost more than the exercise's marks",
        ),
        ({"working": "a} {{"}, ["working"], ""),
    ],
)
def test_what_is_wrong_is_told_at_its_field(
    page: Page, fields: dict[str, Any], path: list[Any], sentence: str
) -> None:
    shown = page.lines(change(page, "taps", **fields))
    assert shown["elsewhere"] == []
    problem = shown["problems"][0]
    assert problem["path"] == path
    assert sentence in problem["sentence"]
    assert page.text == TEXT


def test_what_is_wrong_before_is_not_told_as_new_and_may_be_written(page: Page) -> None:
    page.author.save("answer: both_ways", "answer: both_wyas")
    shown = page.lines(change(page, "taps", title="Taps"))
    assert (shown["problems"], shown["elsewhere"]) == ([], [])
    said = change(page, "loop", title="Loop")
    assert page.lines(said)["problems"][0]["path"] == ["answer"]
    page.write(said)
    assert "title: Loop\n" in page.text


@pytest.mark.parametrize(
    ("typed", "told"),
    [("Which one", "which-one"), ("loop", "there is an exercise 'loop' already"), ("ä", "'-'")],
)
def test_an_id_that_cannot_be_one_is_told_at_its_field(page: Page, typed: str, told: str) -> None:
    said = {"do": "copy", "exercise": "taps", "of": page.told["of"], "id": typed}
    shown = page.lines(said)
    assert shown["problems"][0]["path"] == ["id"]
    assert told in shown["problems"][0]["sentence"].lower()
    assert shown["shown"] == ""
    assert page.post("form/write", {**said, "shown": ""}).status_code == 409
    assert page.text == TEXT


def test_a_file_that_was_changed_meanwhile_is_left_alone(page: Page) -> None:
    said = change(page, "taps", title="Mine")
    shown = page.lines(said)["shown"]
    page.author.save("title: The loop", "title: Theirs")
    theirs = page.text
    for path in ("form/lines", "form/write"):
        answer = page.post(path, {**said, "shown": shown})
        assert answer.status_code == 409
        assert answer.json()["changed"]
    assert page.text == theirs
    page.write(change(page, "taps", title="Mine"))
    assert "title: Mine" in page.text
    assert "title: Theirs" in page.text
    page.author.file.write_text(theirs, encoding="utf-8")
    assert page.form("taps")["of"] == page.told["of"]
    assert page.told["undo"] is None
    answer = page.undo()
    assert (answer.status_code, answer.json()["changed"]) == (409, True)
    assert page.text == theirs


def test_undo_takes_back_only_what_this_page_was_told_of(page: Page) -> None:
    page.write(change(page, "taps", title="Mine"))
    old = page.told["of"]
    page.write(change(page, "taps", title="Of the other window"))
    answer = page.post("form/undo", {"of": old})
    assert (answer.status_code, answer.json()["changed"]) == (409, True)
    assert "title: Of the other window" in page.text
    assert page.undo().status_code == 200
    assert "title: Mine" in page.text


def test_a_folder_that_was_renamed_meanwhile_is_told(page: Page, tmp_path: Path) -> None:
    page.write(change(page, "taps", title="Mine"))
    said = change(page, "taps", title="Yours")
    shown = page.lines(said)["shown"]
    folder = page.author.file.parent
    folder.rename(tmp_path / "elsewhere")
    answers = [
        page.form("taps"),
        page.lines(said),
        page.post("form/write", {**said, "shown": shown}).json(),
        page.undo().json(),
    ]
    for answer in answers:
        assert "small/lab.md is not there any more" in answer["told"][0]
        assert "protected" not in answer["told"][0]
    (tmp_path / "elsewhere").rename(folder)
    page.write(said)
    assert "title: Yours" in page.text


def test_what_is_no_exercise_has_no_form(page: Page) -> None:
    assert page.form("")["told"] == ["Choose an exercise first."]


def test_what_is_written_at_the_last_moment_is_not_written_over(
    page: Page, monkeypatch: pytest.MonkeyPatch
) -> None:
    said = change(page, "taps", title="Mine")
    shown = page.lines(said)["shown"]

    def theirs_first(path: Path) -> bytes:
        path.write_text("theirs", encoding="utf-8")
        return definition_bytes(path)

    monkeypatch.setattr(f"{PUTTING}.definition_bytes", theirs_first)
    assert page.post("form/write", {**said, "shown": shown}).json()["changed"]
    assert page.text == "theirs"
    assert [file.name for file in page.author.file.parent.iterdir()] == ["lab.md"]


def test_only_what_was_shown_is_written(page: Page) -> None:
    said = change(page, "taps", title="Mine")
    shown = page.lines(said)["shown"]
    other = {**said, "values": {**said["values"], "title": "Another"}, "shown": shown}
    assert "not what was shown" in page.post("form/write", other).json()["told"][0]
    assert page.text == TEXT


@pytest.mark.skipif(os.name != "posix", reason="rights of POSIX")
def test_rights_stay_and_nothing_else_is_written(page: Page) -> None:
    file = page.author.file

    def times() -> dict[Path, int]:
        files = (path for path in file.parents[1].rglob("*") if path.is_file())
        return {path: path.stat().st_mtime_ns for path in files}

    before = times()
    file.chmod(0o664)
    umask = os.umask(0o077)
    try:
        page.write(change(page, "taps", title="Mine"))
    finally:
        os.umask(umask)
    assert stat.S_IMODE(file.stat().st_mode) == 0o664
    assert {path for path, at in times().items() if at != before.get(path)} == {file}


def test_through_a_link_nothing_is_written(tmp_path: Path) -> None:
    author = author_at(tmp_path)
    real = tmp_path / "elsewhere" / "small" / "lab.md"
    real.parent.mkdir(parents=True)
    author.file.rename(real)
    author.file.symlink_to(real)
    page = Page(author)
    told = page.write(change(page, "taps", title="Mine"))["told"]
    assert "is a link" in told[0]
    assert real.read_text(encoding="utf-8") == TEXT
    assert author.file.is_symlink()


def test_a_lab_that_came_with_labkit_is_not_written(
    page: Page, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(desk_module, "came_with_labkit", lambda _: True)
    assert "came with labkit" in page.form("taps")["locked"]
    assert "came with labkit" in page.write(change(page, "taps", title="Mine"))["told"][0]
    assert page.text == TEXT


def test_a_protected_file_is_told(page: Page, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(f"{PUTTING}.os.access", lambda *_: False)
    assert "protected" in page.write(change(page, "taps", title="Mine"))["told"][0]
    assert page.text == TEXT


@pytest.mark.parametrize(
    ("header", "value"),
    [
        ("origin", "http://elsewhere.example"),
        ("origin", ""),
        ("origin", "null"),
        ("host", "elsewhere.example"),
        ("labkit-form", ""),
        ("labkit-form", "guessed"),
        ("content-type", "text/plain"),
        ("content-type", "application/x-www-form-urlencoded"),
        ("sec-fetch-site", "cross-site"),
        ("sec-fetch-site", "same-site"),
    ],
)
def test_only_the_previews_own_page_has_something_written(
    page: Page, header: str, value: str
) -> None:
    said = change(page, "taps", title="Mine")
    said["shown"] = page.lines(said)["shown"]
    for path in ("form/lines", "form/write", "form/undo"):
        assert page.post(path, said, **{header: value}).status_code in (403, 421), path
    assert page.text == TEXT
    guessed = TestClient(PreviewApp(page.author.previewed).app, base_url=f"{HERE}/guessed/")
    assert guessed.post("form/write", json=said, headers=page.headers).status_code == 403
    assert page.client.get("form/write").status_code == 405


@pytest.mark.parametrize(
    "said",
    [
        [],
        "text",
        {},
        {"do": "remove", "exercise": "taps"},
        {"do": "change", "exercise": 1},
        {"do": "change", "exercise": "taps", "values": [1]},
        {"do": "move", "exercise": "taps", "after": True},
        {"do": "move", "exercise": "taps", "after": 99},
        {"do": "move", "exercise": "../taps", "after": 0},
        {"do": "add", "kind": "nothing", "after": 0, "values": {}},
        {"do": "copy", "exercise": "taps", "id": ["a"]},
    ],
)
def test_any_message_is_done_or_told(page: Page, said: Any) -> None:
    of = {"of": page.told["of"]} if isinstance(said, dict) else {}
    for path in ("form/lines", "form/write"):
        answer = page.post(path, {**said, **of} if of else said)
        assert answer.status_code in (400, 409)
    assert page.text == TEXT


def test_a_text_that_would_end_its_block_does_not(page: Page) -> None:
    said = change(page, "taps", question="Look:\n```\nkind: choice\n```\n~~~")
    page.write(said)
    assert page.form("taps")["values"]["question"] == "Look:\n```\nkind: choice\n```\n~~~"
    lines = {"lines": "|\n```\nmore"}
    told = page.lines(change(page, "fixed", tolerance=lines))["told"]
    assert "in the file" in told[0]


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        ("- - {kind: broken}\n- - {kind: loose", "Line 2: "),
        ("[[{kind: broken}]", "Line 1: "),
        ("- - a: 1\n    a: 2", "Line 2: is written twice."),
    ],
)
def test_lines_that_cannot_be_read_are_told_at_their_field(
    page: Page, lines: str, told: str
) -> None:
    values = {"title": "Find it", "cases": {"lines": lines}}
    said = {"do": "add", "kind": "diagnosis", "of": page.told["of"], "after": 0, "id": ""}
    shown = page.lines({**said, "values": values})
    assert (shown["shown"], shown["hunks"]) == ("", [])
    assert shown["problems"][0]["path"] == ["cases"]
    assert shown["problems"][0]["sentence"].startswith(told)


def test_exercises_that_have_no_form_say_why(page: Page) -> None:
    author = page.author
    author.save("title: The taps", "title: [The taps")
    assert "cannot be read" in page.form("taps")["told"][0]
    assert (
        f"Line {author.text[: author.text.index('[The')].count(chr(10)) + 1}:"
        in page.form("taps")["told"][0]
    )
    author.write(TEXT.replace("kind: quantity", "kind: quantty"))
    assert "kind of this exercise is not known" in page.form("loop")["told"][0]
    author.write(TEXT.replace("```exercise taps", "```exercise"))
    line = TEXT[: TEXT.index("```exercise taps")].count("\n") + 1
    assert "has no id" in page.form(f"line-{line}")["told"][0]
    assert "no exercise 'nothing'" in page.form("nothing")["told"][0]
    author.write(TEXT.replace("---\n", "", 1))
    assert "header is missing" in page.form("taps")["told"][0]
    author.file.write_bytes(b"\xff\xfe")
    assert "UTF-8" in page.form("taps")["told"][0]
    author.file.unlink()
    assert page.form("taps")["told"]


CHILD = """\
---
extends: small
id: larger
version: 1.0
title: A larger lab
---

```exercise own
kind: quantity
title: Its own
question: What is 1 m?
answer: '1'
unit: m
marks: 1
working: It is.
```
"""


def test_an_exercise_of_another_lab_is_told_and_not_written(tmp_path: Path) -> None:
    child = author_at(tmp_path / "other", CHILD.replace("extends: small", "extends: base"))
    base = child.file.parents[1] / "base" / "lab.md"
    base.parent.mkdir()
    base.write_text(TEXT, encoding="utf-8")
    page = Page(child)
    told = page.form("taps")["told"][0]
    line = TEXT[: TEXT.index("```exercise taps")].count("\n") + 1
    assert f"stands in base/lab.md, line {line}" in told
    for said in (
        {"do": "change", "exercise": "taps", "values": {}},
        {"do": "move", "exercise": "taps", "after": -1},
        {"do": "copy", "exercise": "taps", "id": "new"},
    ):
        assert "base/lab.md" in page.lines({**said, "of": page.told["of"]})["told"][0]
    said = {"do": "copy", "exercise": "own", "of": page.told["of"], "id": "taps"}
    assert "already" in page.lines(said)["problems"][0]["sentence"]
    assert page.write({**said, "id": ""})["exercise"] == "own-2"
    assert base.read_text(encoding="utf-8") == TEXT


def test_a_kind_that_breaks_down_is_told(page: Page, monkeypatch: pytest.MonkeyPatch) -> None:
    def breaks(_: str) -> Any:
        raise ZeroDivisionError("in a kind of somebody else")

    monkeypatch.setattr(desk_module, "shape_of", breaks)
    assert page.form("taps")["told"]


def test_windows_line_ends_stay(tmp_path: Path) -> None:
    author = author_at(tmp_path)
    author.file.write_bytes(TEXT.replace("\n", "\r\n").encode())
    page = Page(author)
    page.write(change(page, "taps", title="Mine", question="One\ntwo"))
    assert page.text.count("\n") == page.text.count("\r\n")
    taps = TEXT[TEXT.index("title: The taps") : TEXT.index("answer: length / taps")]
    new = TEXT.replace(taps, "title: Mine\nquestion: |\n  One\n  two\n")
    assert page.text == new.replace("\n", "\r\n")


def lines(text: str) -> list[str]:
    return list(text)


@pytest.mark.parametrize(
    ("old", "new", "line", "shown"),
    [
        ("abcdef", "abXdef", 1, " a b-c+X d e"),
        ("abcdef", "bcdef", 1, "-a b c"),
        ("abcdef", "abcdefg", 5, " e f+g"),
        ("", "a", 1, "+a"),
        ("aaaa", "aaa", 2, " a a-a"),
    ],
)
def test_lines_are_shown_with_those_around_them(old: str, new: str, line: int, shown: str) -> None:
    (hunk,) = hunks(lines(old), lines(new))
    assert hunk["line"] == line
    assert "".join(sign + text for sign, text in hunk["lines"]) == shown


def test_nothing_changed_shows_nothing(page: Page) -> None:
    assert page.lines(change(page, "taps"))["hunks"] == []


def test_two_places_are_shown_apart() -> None:
    old = [str(number) for number in range(40)]
    new = [*old[:3], "x", *old[4:30], *old[31:]]
    first, second = hunks(old, new)
    assert (first["line"], second["line"]) == (2, 29)


def test_what_is_not_filled_in_is_empty_and_choices_are_told(page: Page) -> None:
    form = page.client.get("form", params={"kind": "direct_address"}).json()
    said = {"do": "add", "of": form["of"], "kind": "direct_address", "id": "", "after": -1}

    def told(field: str, values: dict[str, Any]) -> list[str]:
        problems = page.lines({**said, "values": values})["problems"]
        return [f"{p['sentence']} {p['mend']}" for p in problems if p["path"] == [field]]

    assert told("area", {"area": ""}) == ["'area' is empty. Write input or output."]
    [wrong] = told("area", {"area": "somewhere"})
    assert wrong == "'somewhere' cannot be chosen here. Write input or output."
