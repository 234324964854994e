"""Markdown as HTML, as a strict page may show it."""

from __future__ import annotations

from labkit.language.markdown import to_html


def test_a_table_is_aligned_by_classes_and_has_no_style_of_its_own() -> None:
    html = to_html("| a | b | c | d |\n|:--|:-:|--:|---|\n| 1 | 2 | 3 | 4 |")
    assert "style" not in html
    assert '<th class="to-left">a</th>' in html
    assert '<td class="to-center">2</td>' in html
    assert '<td class="to-right">3</td>' in html
    assert "<td>4</td>" in html
