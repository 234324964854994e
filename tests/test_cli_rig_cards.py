"""`labkit cards` through a real process."""

from __future__ import annotations

from pathlib import Path

from rigs_by_chance import devicenet_text
from test_cli import fails, labkit


def test_cards_are_dealt_printed_again_and_checked(tmp_path: Path) -> None:
    (tmp_path / "rig.md").write_text(devicenet_text(4), "utf-8")
    done = labkit("cards", "rig.md", "--pairs", "3", cwd=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    named = [line.split(":", 1)[1].split("(")[0].strip() for line in done.stdout.splitlines()[:4]]
    assert all((tmp_path / path).is_file() for path in named), named
    cards = (tmp_path / "print" / "fault-cards.html").read_bytes()
    assert labkit("cards", "rig.md", cwd=tmp_path).returncode == 0
    assert (tmp_path / "print" / "fault-cards.html").read_bytes() == cards
    assert "holds other cards" in fails("cards", "rig.md", "--pairs", "4", cwd=tmp_path)
    (tmp_path / "m.csv").write_text("ohms,1,15\n", "utf-8")
    told = labkit("cards", "rig.md", "--check", "m.csv", "--card", "2", cwd=tmp_path)
    assert told.returncode == 0
    assert "agrees with neither" in told.stdout


def test_what_does_not_go_together_gets_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "rig.md").write_text(devicenet_text(4), "utf-8")
    assert "go together" in fails("cards", "rig.md", "--card", "2", cwd=tmp_path)
    assert "'--pairs' or '--class'" in fails(
        "cards", "rig.md", "--pairs", "2", "--class", ".", cwd=tmp_path
    )
    assert "No such file" in fails("cards", "none.md", cwd=tmp_path)
    assert "is not a class folder" in fails("cards", "rig.md", "--class", ".", cwd=tmp_path)
