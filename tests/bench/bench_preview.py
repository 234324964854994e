"""From saving a lab to seeing it, in a browser, for every lab that comes with labkit.

    uv run --frozen python tests/bench/bench_preview.py [SAVES]

The title of an exercise in focus is changed in the file; it is seen when it stands on the page.
"""

from __future__ import annotations

import re
import shutil
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path
from time import time
from typing import Any, Final

from playwright.sync_api import sync_playwright

from labkit.lab.library import lab_library

CHROMIUM: Final = shutil.which("chromium") or shutil.which("chromium-browser")
_FIRST: Final = re.compile(r"^```exercise (\S+)\n(.*?)^title: *(.+?)$", re.MULTILINE | re.DOTALL)
_WATCH: Final = """(words) => {
  const seen = () => document.querySelector(".lk-header h3")?.textContent.includes(words);
  const watch = new MutationObserver(() => {
    if (!seen()) return;
    watch.disconnect();
    requestAnimationFrame(() => { window.seenAt = Date.now(); });
  });
  watch.observe(document.body, { childList: true, subtree: true });
}"""


def saves_of(lab: str, folder: Path, browser: Any, saves: int) -> list[float]:
    """How many seconds each save took until it was seen."""
    # Beside all others, for a lab may extend one of them.
    shutil.copytree(lab_library(), folder, dirs_exist_ok=True)
    file = folder / lab / "lab.md"
    text = file.read_text(encoding="utf-8")
    found = _FIRST.search(text)
    assert found, lab
    command = [sys.executable, "-m", "labkit", "preview", str(file), "--no-browser", "--port", "0"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout
            said = (re.search(r"http://\S+", line) for line in process.stdout)
            address = next(match[0] for match in said if match)
            page = browser.new_page()
            page.goto(f"{address}#{found[1]}")
            page.locator(".lk-header h3").wait_for()
            return [_save(file, text, found, number, page) for number in range(saves)]
        finally:
            process.terminate()


def _save(file: Path, text: str, found: re.Match[str], number: int, page: Any) -> float:
    words = f"Written {number}"
    changed = text[: found.start(3)] + words + text[found.end(3) :]
    page.wait_for_timeout(1500)  # as after a pause, with a proof-reading under way
    page.evaluate(_WATCH, words)
    begun = time()
    file.write_text(changed, encoding="utf-8")
    page.locator(".lk-header h3", has_text=words).wait_for()
    page.wait_for_timeout(100)
    # By the page's own clock, which is this machine's: the driver looks only now and then.
    return float(page.evaluate("() => window.seenAt")) / 1000 - begun


def main() -> None:
    """Print a line a lab, the median and the longest."""
    saves = int(sys.argv[1]) if len(sys.argv) > 1 else 10
    labs = sorted(file.parent.name for file in lab_library().glob("*/lab.md"))
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM)
        for lab in labs:
            with tempfile.TemporaryDirectory() as folder:
                took = saves_of(lab, Path(folder), browser, saves)
            print(f"{lab:28} {statistics.median(took):5.2f} {max(took):5.2f} s", flush=True)


if __name__ == "__main__":
    main()
