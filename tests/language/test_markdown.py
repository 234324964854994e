"""Markdown as HTML, as a strict page may show it."""

from __future__ import annotations

import pytest

from labkit.language.markdown import harmless, to_html


def test_a_table_is_aligned_by_classes_and_has_no_style_of_its_own() -> None:
    html = to_html("| a | b | c | d |\n|:--|:-:|--:|---|\n| 1 | 2 | 3 | 4 |")
    assert "style" not in html
    assert '<th class="to-left">a</th>' in html
    assert '<td class="to-center">2</td>' in html
    assert '<td class="to-right">3</td>' in html
    assert "<td>4</td>" in html


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("a <b>x</b>", "a \\<b>x\\</b>"),
        ("see `<b>` and <video src=x>", "see `<b>` and \\<video src=x>"),
        ("```\n<b>\n```\n<i>", "```\n<b>\n```\n\\<i>"),
        ("    <code>\n\n<x>", "    <code>\n\n\\<x>"),
        ("| ` | <img src=x> ` |\n|---|---|", "| ` | \\<img src=x> ` |\n|---|---|"),
        ("x ` a\n\n<img src=q> ` y", "x ` a\n\n\\<img src=q> ` y"),
        ("![a](http://x)", "\\![a](http://x)"),
        ("![a][r]\n\n[r]: http://x", "\\![a][r]\n\n[r]: http://x"),
        ("<!-- x --> <?x?>", "\\<!-- x --> \\<?x?>"),
        ("a < b, a<3, $a<b$", "a < b, a<3, $a<b$"),
        ("<https://example.org>", "<https://example.org>"),
        ("![a](data:image/png;base64,QQ)", "![a](data:image/png;base64,QQ)"),
    ],
)
def test_for_a_reader_of_html_it_stays_text(text: str, kept: str) -> None:
    assert harmless(text) == kept
