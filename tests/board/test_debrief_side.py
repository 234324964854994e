"""The debrief asked for without a browser: who may, what was scored, what came in since, acts."""

from __future__ import annotations

import pytest
from board_browser import AtBoard, BoardBrowser
from tiny_class import Room as Class

from labkit.classroom.corrections.correcting import void

TWICE = "[{lab: tiny, before_and_after: yes}]"


@pytest.fixture
def handed_in(a_class: Class) -> Class:
    """Ann and Ben handed in, both with the same mistake; nothing is scored."""
    a_class.write_class(labs=TWICE)
    a_class.deal()
    for who in ("ann", "ben"):
        a_class.hand_in(who, {"double": f"{2 * a_class.number(who) + 1} m"})
    return a_class


@pytest.fixture
def scored(board: BoardBrowser, handed_in: Class) -> Class:
    assert board.does("hand-ins/score").status_code == 200
    assert board.when_done()["wrong"] == []
    return handed_in


def test_nobody_without_a_pass_reads_or_does_anything(at_board: AtBoard, scored: Class) -> None:
    stranger = at_board()
    for part in ("now", "since", "debrief.html", "analysis.html", "gain.html"):
        answer = stranger.asks(f"debrief/{part}")
        assert answer.status_code == 403
        assert "Ann" not in answer.text
    assert stranger.does("debrief/deal-after", lab="tiny", people=3).status_code == 403
    assert len(scored.dealt.dealt) == 3


def test_before_anything_is_dealt_or_scored_it_says_so(board: BoardBrowser, a_class: Class) -> None:
    now = board.asks("debrief/now").json()
    assert (now["dealt"], now["debrief"], now["pages"]) == (False, None, [])
    assert board.asks("debrief/since").json() == {"new": 0, "changed": False}
    a_class.deal()
    assert board.asks("debrief/debrief.html").status_code == 404


def test_scored_from_the_page_it_shows_the_mistake_in_words(
    board: BoardBrowser, scored: Class
) -> None:
    now = board.asks("debrief/now").json()
    (lab,) = now["debrief"]["labs"]
    first = lab["teach"][0]
    assert first["sentence"] == "Two of two made this mistake."
    assert first["told"].startswith("<p>You counted <em>one</em> more than")
    assert "one-more" not in board.asks("debrief/now").text
    assert [one["people"] for one in lab["see"]] == [["Cy Morland"]]
    assert now["scored"].endswith("UTC") or "UTC+" in now["scored"] or "UTC-" in now["scored"]
    assert (scored.path / "scores" / "score-sheet.csv").exists()
    assert (scored.path / "scores" / "tiny--ann.html").exists()


def test_what_came_in_or_changed_since_is_told(board: BoardBrowser, scored: Class) -> None:
    assert board.asks("debrief/since").json() == {"new": 0, "changed": False}
    scored.hand_in("cy")
    assert board.asks("debrief/since").json() == {"new": 1, "changed": False}
    void(scored.folder, "tiny", "parity", reason="a misprint", by="R. Ops")
    assert board.asks("debrief/since").json() == {"new": 1, "changed": True}
    board.does("hand-ins/score")
    board.when_done()
    assert board.asks("debrief/since").json() == {"new": 0, "changed": False}


def test_written_pages_run_nothing_and_no_other_file_is_given(
    board: BoardBrowser, scored: Class
) -> None:
    for page in board.asks("debrief/now").json()["pages"]:
        answer = board.asks(f"debrief/{page}")
        assert answer.status_code == 200
        assert "default-src 'none'" in answer.headers["content-security-policy"]
        assert "script-src" not in answer.headers["content-security-policy"]
    for name in ("debrief.json", "tiny--ann.html", "score-sheet.csv", "..%2Fclass-secret.txt"):
        assert board.asks(f"debrief/{name}").status_code == 404
    assert scored.folder.secret()


def test_the_test_after_is_dealt_to_those_who_were_shown(
    board: BoardBrowser, scored: Class
) -> None:
    (test,) = board.asks("debrief/now").json()["tests"]
    assert (test["dealt"], test["left"], test["without"]) == (3, 3, 1)
    refused = board.does("debrief/deal-after", lab="tiny", people=2)
    assert refused.status_code == 409
    assert "Meanwhile it is 3" in refused.text
    assert len(scored.dealt.dealt) == 3
    board.does("debrief/deal-after", lab="tiny", people=3)
    work = board.when_done()
    assert (work["by"], work["told"], work["wrong"]) == ("Mira", {"new": 3}, [])
    (test,) = board.asks("debrief/now").json()["tests"]
    assert (test["left"], len(scored.dealt.dealt)) == (0, 6)


def test_a_damaged_file_of_scoring_is_as_if_nothing_was_scored(
    board: BoardBrowser, scored: Class
) -> None:
    (scored.path / "scores" / "debrief.json").write_text("{")
    assert board.asks("debrief/now").json()["debrief"] is None
