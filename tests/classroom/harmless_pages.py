"""Names that are traps, and a page taken apart to see whether one went off."""

from __future__ import annotations

from html.parser import HTMLParser

VOID = {"meta", "br", "img", "hr", "input", "link", "line", "rect", "circle", "path", "polyline"}
NASTY = [
    "t1,<script>alert(1)</script>",
    "t2,=HYPERLINK(1)",
    "t3,\"+cmd|' /C calc'!A0\"",
    "t4,-2+3",
    "t5,@SUM(A1)",
    "t6,＝1+1",
    "t7,دانا <b>",
    "t8,{{ 7 * 7 }} & Co",
    "t9,{% raw %}",
]


class Page(HTMLParser):
    """Tags that open and close, the text, and every address that a browser would ask for."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.tags: set[str] = set()
        self.addresses: list[str] = []
        self.words = ""
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.words += " "
        names = [name for name, _ in attrs]
        assert not [name for name in names if name.startswith("on")], names
        self.addresses += [value or "" for name, value in attrs if name in ("src", "href")]
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.open.pop()

    def handle_endtag(self, tag: str) -> None:
        if tag in VOID:
            return
        assert self.open, f"</{tag}> closes nothing"
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.words += data
