"""How long a reading takes on the trainee's screen: from placing a probe to the meter's figure.

Through everything that is in between: the page, Jupyter, the kernel, the journal on the disk, the
bench. In ms of the clock, so a busy machine counts against us; goal: 100 ms.

uv run --frozen python tests/bench/bench_reading.py
"""

import random
import statistics
import sys
import tempfile
from pathlib import Path
from typing import Any

from playwright.sync_api import sync_playwright

sys.path.insert(0, str(Path(__file__).parents[1] / "browser"))

from dealt import drawn_desk
from driving import WAIT_MS, Server, Station
from serving import FLAGS, WHOLE, installed, running_server
from test_bench_screens import BENCH, scenario

READINGS = 60
# From the click on a terminal to the frame in which the figure is seen.
PLACE = """async (terminal) => {
  const display = document.querySelector('.lk-display');
  const read = new Promise((done) => {
    new MutationObserver((_, watch) => {
      if (display.textContent === '…') return;
      watch.disconnect();
      requestAnimationFrame(() => done(performance.now()));
    }).observe(display, {childList: true, characterData: true, subtree: true});
  });
  document.querySelector('[data-probe="red"]').click();
  const begin = performance.now();
  document.querySelector(`[data-terminal="${terminal}"]`).click();
  return await read - begin;
}"""


def workbook(server: Server, nodes: int, *, practice: bool) -> Path:
    folder = server.root / f"reading-{nodes}-{practice}"
    folder.mkdir()
    return drawn_desk(scenario(folder, nodes), folder, practice=practice).notebook


def measure(page: Any, frame: Any, what: str, mode: str) -> None:
    frame.get_by_role("button", name=mode, exact=True).click()
    places = frame.locator(".lk-spot").all()
    times = []
    chance = random.Random(7)
    for turn in range(READINGS):
        if turn % 3 == 0:
            # By key: in the middle of a place that carries a probe, a click finds nothing to hit.
            chance.choice(places).press("Enter")
        ids = [each.get_attribute("data-terminal") for each in frame.locator(".lk-terminal").all()]
        times.append(page.evaluate(PLACE, chance.choice(ids)))
    times.sort()
    figures = f"{statistics.median(times):6.0f} {times[int(0.95 * READINGS)]:6.0f} {times[-1]:6.0f}"
    print(f"{what + ', ' + mode:<52}{figures} ms (median, 95 %, longest)", flush=True)


def main() -> None:
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        home, root = Path(folder) / "home", Path(folder) / "root"
        home.mkdir()
        root.mkdir()
        browser = playwright.chromium.launch(executable_path=installed(WHOLE), args=FLAGS)
        with running_server(home, root) as server:
            for nodes, practice in ((10, True), (20, True), (10, False)):
                page = browser.new_page(viewport={"width": 1280, "height": 720})
                page.set_default_timeout(WAIT_MS)
                Station(server, page).open(workbook(server, nodes, practice=practice))
                frame = page.locator(f'[data-exercise="{BENCH}"]')
                what = f"{nodes} nodes, {'practice' if practice else 'assessed'}"
                frame.get_by_role("button", name="− black probe").click()
                frame.locator(".lk-terminal").first.click()
                measure(page, frame, what, "DC volts, bus idle")
                if practice:
                    measure(page, frame, what, "DC volts, bus busy")
                frame.get_by_role("switch").click()
                frame.get_by_role("switch", name="Power is off").wait_for()
                measure(page, frame, what, "Resistance")
                page.close()
                server.stop_kernels()
        browser.close()


if __name__ == "__main__":
    main()
