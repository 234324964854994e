"""HTML in a lab's text is told at its line, once a tag, with what to write in its place."""

from __future__ import annotations

import pytest
from broken import SOUND, line_of

from labkit.lab.reading import read_lab_text
from labkit.language.markdown import to_html
from labkit.proofing.typed_html import TypedHtml, typed_html_findings

QUESTION = next(line for line in SOUND.split("\n") if line.startswith("question: "))


def found_in(text: str) -> list[TypedHtml]:
    return [
        each for each in typed_html_findings(read_lab_text(text)) if isinstance(each, TypedHtml)
    ]


def asked(words: str) -> str:
    """The lab with other words in its first question, as a block of lines."""
    lines = "".join(f"  {line}\n" for line in words.split("\n"))
    return SOUND.replace(f"{QUESTION}\n", f"question: |\n{lines}")


@pytest.mark.parametrize(
    ("words", "written", "mend"),
    [
        ("The <b>near</b> end", "<b>", "**words**"),
        ("The <STRONG>near</STRONG> end", "<strong>", "**words**"),
        ("One<br>two<br/>three<br />four", "<br>", "empty"),
        ("<table><tr>\n<td>1</td></tr></table>", "<table>", "|---|---|"),
        ('<font color="red">Red</font>', "<font>", "Take it out"),
        ("<!-- the answer is 4 -->", "<!--", "{# note #}"),
        ("m<sup>2</sup>", "<sup>", "m²"),
        ('<a href="https://example.org">there</a>', "<a>", "[words]"),
        ("<script>alert(1)</script>", "<script>", "runs and fetches nothing"),
        ("| a | b |\n|---|---|\n| <i>1</i> | 2 |", "<i>", "*words*"),
    ],
)
def test_a_tag_is_told_with_what_to_write_in_its_place(words: str, written: str, mend: str) -> None:
    found = found_in(asked(words))
    assert [each.written for each in found].count(written) == 1
    told = next(each for each in found if each.written == written)
    assert mend in told.mend
    assert told.exercise == "loss"


def test_it_is_told_at_its_line_in_every_text() -> None:
    text = asked("First.\n\nThen\nthe <b>near</b> end").replace(
        "```exercise", "Mind <hr> it.\n\n```exercise", 1
    )
    text = text.replace("title: The loss", "title: The <u>loss</u>&deg;")
    assert {each.written: each.place.line for each in found_in(text)} == {
        "<b>": line_of("<b>near", text),
        "<hr>": line_of("Mind <hr>", text),
        "<u>": line_of("<u>loss", text),
        "&deg;": line_of("<u>loss", text),
    }


@pytest.mark.parametrize(
    "words",
    [
        "Is 2 < 3, 2 <3, a<b and b> c?",
        "Where a <b and c> d holds.",
        "Type `<b>` and `<name>`.",
        "Give <name> and <speed in kBd>.",
        "~~~\n<b>bold</b>\n<!-- no -->\n~~~",
        "Not {{ 1 if 2 <3 else '<b>' }}.",
        "Below 5 &deg;C &amp; above.",
        "See <https://example.org/b>.",
        "An arrow --> and <-- another.",
    ],
)
def test_what_is_no_html_is_left_alone(words: str) -> None:
    assert found_in(asked(words)) == []


def test_what_is_told_to_write_works() -> None:
    assert "<strong>words</strong>" in to_html("**words**")
    assert "<em>words</em>" in to_html("*words*")
    assert "<br />" in to_html("one\\\ntwo")
    assert "<table>" in to_html("| cable | length |\n|---|---|\n| A | 20 m |")
    lab = read_lab_text(asked("Hidden {# note #} here."))
    assert "note" not in lab.exercises[0].question.render(lab.constant_values)
