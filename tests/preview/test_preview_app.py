"""What a preview serves, and to whom: without a browser."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from starlette.testclient import TestClient, WebSocketTestSession
from starlette.websockets import WebSocketDisconnect
from written_lab import TEXT, Author

from labkit.front_end.written_pages import WRITTEN_POLICY
from labkit.preview import app as app_module
from labkit.preview.app import PreviewApp

HERE = "http://127.0.0.1:8650"


@pytest.fixture
def served(author: Author) -> PreviewApp:
    return PreviewApp(author.previewed)


@pytest.fixture
def page(served: PreviewApp) -> TestClient:
    """A browser that has the address; the files are not looked at."""
    return TestClient(served.app, base_url=f"{HERE}/{served.key}/")


@pytest.fixture
def talk(served: PreviewApp, monkeypatch: pytest.MonkeyPatch) -> Iterator[WebSocketTestSession]:
    """A page's socket while the files are looked at; no proof-reading is begun."""
    monkeypatch.setattr(app_module, "_PROOF_AFTER_S", 3600)
    with TestClient(served.app, base_url=HERE) as client:
        where = f"{HERE.replace('http', 'ws')}/{served.key}/talk"
        with client.websocket_connect(where, headers={"origin": HERE}) as socket:
            yield socket


def test_only_the_address_with_the_key_opens_it(served: PreviewApp) -> None:
    stranger = TestClient(served.app, base_url=HERE)
    assert stranger.get("/").status_code == 404
    for path in ("desk", "preview/author.js", "paper", "solutions", "own/host.js"):
        assert stranger.get(f"/guessed/{path}").status_code == 403
        assert stranger.get(f"/{served.key}/{path}").status_code == 200
    assert stranger.post("/guessed/choose", json={"draw": "another"}).status_code == 403
    with pytest.raises(WebSocketDisconnect), stranger.websocket_connect("/guessed/talk"):
        pass


def test_a_page_from_elsewhere_or_by_another_name_does_nothing(
    served: PreviewApp, author: Author
) -> None:
    client = TestClient(served.app, base_url=HERE)
    path, said = f"/{served.key}/choose", {"draw": "another"}
    assert client.post(path, json=said).status_code == 403
    elsewhere = {"origin": "http://elsewhere.example"}
    assert client.post(path, json=said, headers=elsewhere).status_code == 403
    assert (
        client.get(f"/{served.key}/desk", headers={"host": "elsewhere.example"}).status_code == 421
    )
    assert author.now["seed"] == "one"


@pytest.mark.parametrize(
    "name", ["..%2fapp.py", "app.py", "%2e%2e/app.py", "..%5capp.py", "lab.md"]
)
def test_nothing_but_its_own_pages_is_served(page: TestClient, name: str) -> None:
    assert page.get(f"preview/{name}").status_code == 404
    assert page.get(f"own/{name}").status_code == 404


def test_every_answer_forbids_scripts_of_others(page: TestClient) -> None:
    for path in ("", "desk", "preview/author.js"):
        policy = page.get(path).headers["content-security-policy"]
        assert "script-src 'self'" in policy
        assert "unsafe" not in policy
    for path in ("paper", "solutions"):
        answer = page.get(path)
        assert answer.headers["content-security-policy"] == WRITTEN_POLICY
        assert "<script" not in answer.text


def test_markup_in_a_lab_is_text(page: TestClient, author: Author) -> None:
    bad = "<img src=x onerror=alert(1)><script>alert(1)</script>"
    author.save("How long is the loop?", f"How long? {bad}")
    for path in ("paper", "solutions"):
        assert bad not in page.get(path).text
    question = page.get("desk").json()["sheet"]["steps"][0]["question"]
    assert "<script" not in question
    assert "<img" not in question


def test_the_author_chooses_draw_and_view(page: TestClient, author: Author) -> None:
    origin = {"origin": HERE}

    def choose(said: object) -> int:
        return page.post("choose", json=said, headers=origin).status_code

    assert choose({"draw": "another"}) == 200
    assert author.now["seed"] != "one"
    assert choose({"draw": "before"}) == 200
    assert choose({"seed": "proof-7"}) == 200
    assert author.now["seed"] == "proof-7"
    assert choose({"practice": False}) == 200
    assert author.opened["practice"] is False
    none: list[object] = [{}, [], {"draw": "twice"}, {"seed": ""}, {"seed": "x" * 101}]
    for said in [*none, {"seed": "\x00"}]:
        assert choose(said) in (400, 403)
    assert author.now["seed"] == "proof-7"


def test_nothing_is_handed_in(page: TestClient) -> None:
    answer = page.post("hand-in", headers={"origin": HERE})
    assert answer.status_code == 409
    assert "nothing is handed in" in answer.text


def test_a_page_hears_of_a_save_and_comes_back_to_the_new_text(
    talk: WebSocketTestSession, page: TestClient, author: Author
) -> None:
    author.file.write_text(TEXT.replace("A small lab", "Another lab"), encoding="utf-8")
    told = talk.receive()
    assert (told["type"], told["code"]) == ("websocket.close", 4403)
    assert page.get("desk").json()["sheet"]["title"] == "Another lab"


def test_a_page_hears_news_where_only_what_is_wrong_changed(
    talk: WebSocketTestSession, page: TestClient, author: Author
) -> None:
    author.file.write_text(TEXT.replace("2 * length", "2 * lenth"), encoding="utf-8")
    assert talk.receive_json() == {"news": True}
    told = page.get("desk").json()["preview"]
    assert told["old"]
    assert told["problems"][0]["source"] == "  both_ways: 2 * lenth"
