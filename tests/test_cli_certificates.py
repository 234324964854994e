"""The commands around certificates: what they print, and how they end."""

from __future__ import annotations

from pathlib import Path

import pytest
from tiny_class import MakeRoom, Room
from typer.testing import CliRunner

from labkit.cli import app
from labkit.cli.screen import tell


@pytest.fixture
def room(make_room: MakeRoom, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Room:
    """Ann has passed, Cy has handed in nothing; nobody has a key yet."""
    monkeypatch.setenv("LABKIT_KEYS", str(tmp_path / "keys"))
    monkeypatch.setenv("COLUMNS", "200")
    made = make_room("ann,Ann Orrel", "cy,Cy Morland", pass_mark="50", valid_for="2 years")
    made.deal()
    made.hand_in("ann")
    return made


def run(*words: object, said: str = "") -> tuple[int, str]:
    done = CliRunner().invoke(app, [str(word) for word in words], input=said)
    if isinstance(done.exception, Exception):
        # `main` would tell it.
        tell(done.exception)
    return done.exit_code, done.output


def test_a_certificate_from_its_issue_to_its_end(
    room: Room, capsys: pytest.CaptureFixture[str]
) -> None:
    status, text = run("certificates", room.path)
    assert status == 0
    assert "Ann Orrel (ann): gets one" in text
    assert "Cy Morland (cy): none. Not handed in: tiny." in text
    assert "Nothing was issued" in text
    _, text = run("certificates", room.path, "--issue", "--by", "Mira")
    assert "1 certificates hold: 1 new" in text
    assert "They name no issuer" in text
    assert "They are not signed" in text
    assert run("key", "--make")[0] == 0
    _, text = run("certificates", room.path, "--issue")
    assert "1 as before" in text
    assert "They are not signed" not in text
    page = room.path / "certificates" / "ann.html"
    status, text = run("verify", page)
    assert status == 0
    assert "Genuine" in text
    assert "All of it stands on the page" in text
    status, text = run("verify", "-", "--class", room.path, said=page.read_text("utf-8"))
    assert status == 0
    assert "By the register it holds" in text
    serial = next(word for word in text.split() if word.endswith("-1.")).strip(".")
    assert run("certificates", room.path, "--withdraw", serial)[0] == 1
    assert "Say why" in capsys.readouterr().err
    assert run("certificates", room.path, "--withdraw", serial, "--reason", "a slip")[0] == 0
    assert run("verify", page)[0] == 0, "the signature is as it was"
    status, text = run("verify", page, "--class", room.path)
    assert status == 1
    assert "✗ It holds no more: it was withdrawn. a slip" in text
    assert run("verify", serial)[0] == 1
    assert "Add --class" in capsys.readouterr().err


def test_somebody_else_checks_with_the_public_key_alone(
    room: Room, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run("key", "--make")
    run("export", room.path, "--to", tmp_path / "out")
    assert run("key", "--public", tmp_path / "public.pem")[0] == 0
    assert run("key", "--export", tmp_path / "secret.pem")[0] == 0
    _, mine = run("key")
    page = tmp_path / "out" / "certificates" / "ann.html"
    monkeypatch.setenv("LABKIT_KEYS", str(tmp_path / "elsewhere"))
    status, text = run("verify", page)
    assert status == 1
    assert "Ask the issuer for their public key" in text
    assert run("verify", page, "--key", tmp_path / "public.pem")[0] == 0
    page.write_text(page.read_text("utf-8").replace("Ann Orrel</h1>", "Ann Orwell</h1>"))
    status, text = run("verify", page, "--key", tmp_path / "public.pem")
    assert status == 1
    assert "the name ('Ann Orrel')" in text
    assert run("key")[0] == 1
    assert run("key", "--import", tmp_path / "secret.pem")[0] == 0
    assert run("key")[1].split(" is in ")[0] == mine.split(" is in ")[0]
    assert run("key", "--make", "--export", tmp_path / "x")[0] == 1
