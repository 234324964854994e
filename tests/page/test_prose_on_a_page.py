"""Formulas set as formulas, trade words underlined."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest

from labkit.lab.library import lab_library
from labkit.page.formulas import with_formulas
from labkit.page.prose import as_read
from labkit.page.trade_words import FILE, PICTURES, marked, meanings

STYLES = PICTURES.with_suffix(".css")
LABS = [file.read_text("utf-8") for file in sorted(lab_library().glob("*/lab.md"))]


def bare(mathml: str) -> str:
    return re.sub(r"<[^>]+>", "", mathml)


def formulas(text: str) -> list[str]:
    return [piece for piece, is_formula in with_formulas(text) if is_formula]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Add up (L_n · R_c + N_t · 0.005 Ω) · I_n for one side.", ["(Ln·Rc+Nt·0.005Ω)·In"]),
        ("It carries at most 4.57 / L amperes.", ["4.57L"]),
        ("L_thick + 5 · L_thin ≤ 500 m; then", ["Lthick+5·Lthin≤500m"]),
        ("R = R₂₀ · (1 + 0.00393 · (T − 20)), T in °C", ["R=R20·(1+0.00393·(T−20))"]),
        ("N_t counts the taps", ["Nt"]),
        ("(40 · 0.015 + 0.005) · 0.8 = 0.484", []),
        ("CAN_H and CAN_L, 0.015 Ω/m, sheets A to D", []),
        ("Sheet A / sheet B", []),
        ("edition 6, fix 25 · S/N 41570", []),
        ("Weighted trunk (125 kbit/s · 250 kbit/s): you added", []),
        ("At its limit (A · B · C): up to 11 V", []),
        ("P = U · I · t", ["P=U·I·t"]),
    ],
)
def test_formulas_are_found(text: str, found: list[str]) -> None:
    assert [bare(formula) for formula in formulas(text)] == found
    assert (
        "".join(piece for piece, is_formula in with_formulas(text) if not is_formula) in text
        or found
    )


def test_an_index_stands_low_and_a_quotient_above_a_line() -> None:
    assert formulas("N_t") == ["<math><msub><mi>N</mi><mi>t</mi></msub></math>"]
    assert (
        "<mfrac><mrow><mn>4.57</mn></mrow><mrow><mi>L</mi></mrow></mfrac>"
        in formulas("4.57 / L")[0]
    )


def test_a_trade_word_is_underlined_once_in_a_text() -> None:
    html = as_read("<p>The trunk, a <em>drop</em>, two drops and the trunk.</p>")
    assert html.count("data-word") == 2
    assert 'data-word="drop">drops</span>' in html


def test_what_means_something_else_is_left_alone() -> None:
    assert marked("It drops out at the earthed frame, and what drops stays.", set()) == (
        "It drops out at the earthed frame, and what drops stays."
    )


def test_code_links_and_headings_stay_as_they_are() -> None:
    html = '<h3>The trunk</h3><code>trunk</code><a href="x">trunk</a>'
    assert as_read(html) == html


def test_every_trade_word_is_used_and_says_one_thing_shortly() -> None:
    for word, meaning in meanings().items():
        assert len(meaning["sentence"].split()) <= 25, word
        assert meaning["sentence"].endswith("."), word
        assert any(marked(lab, set()).count(f'data-word="{word}"') for lab in LABS), (
            f"{word}: nowhere"
        )


def test_a_source_stands_at_each_word() -> None:
    lines = [line for line in FILE.read_text("utf-8").splitlines() if line and line[0] != "#"]
    assert len(lines) == len(meanings())
    assert all(re.search(r" \[[PCMW](, [a-z]+/[a-z-]+)?\]$", line) for line in lines)


def test_a_picture_has_the_part_that_its_word_means_and_nothing_from_elsewhere() -> None:
    shown = {meaning["picture"] for meaning in meanings().values() if "picture" in meaning}
    assert shown == {file.name for file in PICTURES.iterdir()}
    for word, meaning in meanings().items():
        if "picture" not in meaning:
            continue
        drawn = (PICTURES / meaning["picture"]).read_text("utf-8")
        assert f'data-part="{meaning["part"]}"' in drawn, word
    styled = set(re.findall(r"\.(wp[\w-]*)", STYLES.read_text("utf-8")))
    for name in shown:
        picture = ElementTree.parse(PICTURES / name).getroot()
        assert len(picture.get("aria-label", "")) > 40, name
        used = {word for each in picture.iter() for word in each.get("class", "").split()}
        assert used <= styled, name
        # Colours come from the sheet: they follow the theme, and a strict page takes no style.
        names = {name for each in picture.iter() for name, _ in each.items()}
        assert not names & {"style", "fill", "stroke", "href", "onload"}, name
        tags = {each.tag.rpartition("}")[2] for each in picture.iter()}
        assert tags <= {"svg", "g", "path", "rect", "circle", "text"}, name
