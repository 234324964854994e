"""A trainee's hands: for each kind of exercise, an answer put in by clicks and by typing.

An answer is the JSON that the kind's check takes. Only what stands otherwise on the page is
changed, as by a trainee who mends an answer. A list that drops down is chosen from with the
browser's own stand-in for it: the list itself is drawn outside of the page.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from dealt import Solution
from hands_at_the_bench import diagnose, wire_up
from hands_on_ladders import draw_ladder
from typing_in import Form, write

Hand = Callable[[Any, Solution, Any], None]
"""Puts an answer into the frame of an exercise; the button is not pressed yet."""

BESIDE = {"hex": "hex", "bytes": "hex"}
CARD_WORDS = {"slot": "Slot", "name": "Name", "revision": "Revision", "note": "Description"}
VERBS = {"produced": "produces", "consumed": "consumes"}


def write_line(frame: Any, solution: Solution, answer: str) -> None:  # noqa: ARG001
    """The one line, or the one box, of the exercise."""
    write(frame.get_by_role("textbox"), answer)


def point(frame: Any, solution: Solution, answer: list[Any]) -> None:
    """Each point, clicked in the picture, after those that stand there are taken away."""
    while (away := frame.locator(".lk-spot-list button")).count():
        away.first.click()
    if "parts" in solution.ask:
        for part in answer:
            frame.locator(f'.lk-drawn-place[data-part="{part}"]:visible').first.click()
        return
    stage = frame.get_by_role("application")
    for across, down in answer:
        box = stage.bounding_box()
        x, y = across * box["width"] / 1000, down * box["height"] / 1000
        stage.click(position={"x": x, "y": y})


def choose_option(frame: Any, solution: Solution, answer: str) -> None:
    """The option by its words."""
    words = next(o["text"] for o in solution.ask["options"] if o["id"] == answer)
    frame.get_by_role("radio", name=words, exact=True).check()


def write_addresses(frame: Any, solution: Solution, answer: dict[str, str]) -> None:  # noqa: ARG001
    """A node address for each device."""
    form = Form(frame)
    for device, address in answer.items():
        form.write(f"Node address of {device}", address)


def fill_cells(frame: Any, solution: Solution, answer: dict[str, str]) -> None:
    """The blanks of a table, or the facts of frames."""
    form = Form(frame)
    for name, label, cell in cells(solution.ask):
        unit = cell.get("unit") or BESIDE.get(cell["write"], "")
        put = form.choose if cell["write"] == "word" else form.write
        put(f"{label}, in {unit}" if unit else label, answer[name])


def cells(ask: dict[str, Any]) -> list[tuple[str, str, dict[str, Any]]]:
    """Of a table or of frames: each blank's name, its label without a unit, and the cell."""
    if "rows" in ask:
        return [
            (cell["name"], f"{head}, {column}", cell)
            for head, row in zip(_heads(ask["rows"]), ask["rows"], strict=True)
            for column, cell in zip(ask["columns"], row, strict=True)
            if "name" in cell
        ]
    many = len(ask["frames"]) > 1
    return [
        (cell["name"], f"Frame {number}, {cell['label']}" if many else cell["label"], cell)
        for number, frame in enumerate(ask["frames"], 1)
        for cell in frame["fields"]
    ]


def _heads(rows: list[list[dict[str, Any]]]) -> list[str]:
    """What rows are called by: the first given cell, or all of them where that is not one alone."""
    givens = [[cell["text"].rstrip(".") for cell in row if cell.get("text")] for row in rows]
    firsts = [given[0] if given else f"Row {number}" for number, given in enumerate(givens, 1)]
    return [
        ", ".join(given) if firsts.count(first) > 1 else first
        for first, given in zip(firsts, givens, strict=True)
    ]


def turn_switches(frame: Any, solution: Solution, answer: str) -> None:
    """Slide switches and dials are clicked; what they say is chosen or written."""
    task, device = solution.ask["task"], solution.ask["device"]
    if task == "rate":
        frame.locator(f'input[type="radio"][value="{answer}"]').check()
    elif task != "set":
        write(frame.get_by_role("textbox"), answer)
    elif device == "dip":
        for at, wanted in enumerate(answer):
            position = frame.get_by_role("switch").nth(at)
            if position.get_attribute("aria-checked") != ("true" if wanted == "1" else "false"):
                position.click()
    else:
        for at, digit in enumerate(answer):
            frame.get_by_role("slider").nth(at).focus()
            frame.page.keyboard.press(digit)


def lay_map(frame: Any, solution: Solution, answer: dict[str, Any]) -> None:  # noqa: ARG001
    """Each block's area chosen and its first byte typed."""
    form = Form(frame)
    for data, verb in VERBS.items():
        for device, place in answer[data].items():
            what = f"what {device} {verb}"
            form.choose(f"Area for {what}", place["area"])
            form.write(f"First byte of {what}", place["at"])


def plan_board(frame: Any, solution: Solution, answer: dict[str, Any]) -> None:
    """The cards of the board, the Ethernet port and the scanner."""
    form = Form(frame)
    labels = _card_labels(solution.ask["modules"])
    for card, fields in answer["cards"].items():
        for field, text in fields.items():
            form.write(f"{CARD_WORDS[field]} of {labels[card]}", text)
    for group, field, label in (
        ("ethernet", "address", "IP address"),
        ("ethernet", "prefix", "Prefix length"),
        ("scanner", "node", "Node address"),
    ):
        if group in answer:
            form.write(label, answer[group][field])
    if "scanner" in answer:
        form.choose("Data rate in kbit/s", answer["scanner"]["rate"])


def _card_labels(modules: list[dict[str, Any]]) -> dict[str, str]:
    """Two modules of one sort are told apart by their types."""
    sorts = [module["what"] for module in modules]
    return {
        m["id"]: f"{m['what']} ({m['type']})" if sorts.count(m["what"]) > 1 else m["what"]
        for m in modules
    }


def write_reading(frame: Any, solution: Solution, answer: dict[str, str]) -> None:
    """The meter, where there is a choice, and what it shows."""
    meters = solution.ask["meters"]
    if len(meters) > 1:
        words = next(meter["text"] for meter in meters if meter["id"] == answer["meter"])
        frame.get_by_role("radio", name=words, exact=True).check()
    write(frame.get_by_role("textbox"), answer["value"])


def tick_items(frame: Any, solution: Solution, answer: dict[str, Any]) -> None:
    """Every item ready to be seen, and the note beside it."""
    boxes = frame.get_by_role("checkbox", name="Ready to be seen")
    for at, item in enumerate(solution.ask["items"]):
        wanted = answer[item["id"]]
        boxes.nth(at).set_checked(wanted["ready"])
        write(frame.get_by_label(f"Note on: {item['text']}", exact=True), wanted["note"])


def tick_boxes(frame: Any, solution: Solution, answer: list[str]) -> None:
    """Every box by its words, ticked or not."""
    for box in solution.ask["boxes"]:
        named = frame.get_by_role("checkbox", name=box["text"], exact=True)
        named.set_checked(box["id"] in answer)
    if answer == ["none"]:
        frame.get_by_role("checkbox", name="None of them", exact=True).check()


def move_steps(frame: Any, solution: Solution, answer: list[str]) -> None:
    """Each step, first to last, moved up to its place by its button."""
    texts = {step["id"]: step["text"] for step in solution.ask["steps"]}
    shown = frame.locator(".lk-step-row")
    for place, step in enumerate(answer):
        button = frame.get_by_role("button", name=f"Move up: {texts[step]}", exact=True)
        while shown.nth(place).locator(".lk-step-text").text_content() != texts[step]:
            button.click()


def mark_drawing(
    frame: Any,
    solution: Solution,  # noqa: ARG001
    answer: list[dict[str, str]] | str,
) -> None:
    """Each wrong place pressed in the drawing, and what is wrong there chosen; or nothing."""
    while (away := frame.get_by_role("button", name="Take the mark")).count():
        away.first.click()
    nothing = frame.get_by_role("checkbox", name="Nothing in this drawing is wrong")
    nothing.set_checked(isinstance(answer, str))
    for index, mark in enumerate([] if isinstance(answer, str) else answer):
        frame.locator(f'.lk-drawn-place[data-part="{mark["part"]}"]:visible').first.click()
        frame.locator(".lk-review-list select").nth(index).select_option(mark["rule"])


def fill_plan(frame: Any, solution: Solution, answer: dict[str, Any]) -> None:
    """A whole plan: trunk and supply, terminators, each device's row."""
    for number, cable in enumerate(answer["cables"], 1):
        frame.get_by_label(f"Cable of piece {number}", exact=True).select_option(cable)
    frame.get_by_label("Supply, A", exact=True).select_option(answer["rating"])
    write(frame.get_by_label("Supply at, from the left end, with its unit"), answer["supply"])
    for box in frame.get_by_label("Terminator: ").all():
        place = str(box.get_attribute("aria-label")).removeprefix("Terminator: ")
        box.set_checked(place in answer["terminators"])
    for name, row in answer["devices"].items():

        def of(words: str, name: str = name) -> Any:
            return frame.get_by_label(f"{words} of {name}", exact=True)

        write(of("Node address"), row["address"])
        of("Data rate").select_option(row["rate"])
        of("Drop").select_option(row["drop"])
        if name == solution.ask["site"]["scanner"]:
            continue
        of("Scan list entry").set_checked(row["listed"])
        write(of("Input bytes"), row["inputs"])
        if of("First input byte").count():
            write(of("First input byte"), row["first_in"])
        write(of("Output bytes"), row["outputs"])
        if of("First output byte").count():
            write(of("First output byte"), row["first"])


def tick_steps(frame: Any, solution: Solution, answer: list[list[str]]) -> None:
    """Each step's outputs ticked."""
    for number in range(1, solution.ask["steps"] + 1):
        on = answer[number - 1] if number <= len(answer) else []
        step = frame.get_by_role("group", name=f"Step {number}", exact=True)
        for point in solution.ask["points"]:
            step.get_by_label(point["text"], exact=True).set_checked(point["id"] in on)


def fill_slots(frame: Any, solution: Solution, answer: dict[str, Any]) -> None:
    """Chassis and supply, slot by slot the modules, both sums."""
    most = max(solution.ask["chassis"])
    chassis = frame.get_by_label("Chassis", exact=True)
    # What a smaller chassis does not reach is filled first: then it stands there all the same.
    chassis.select_option(str(most))
    for slot in range(len(solution.ask["fixed"]), most):
        module = frame.get_by_label(f"Module in slot {slot}", exact=True)
        module.select_option(answer["slots"].get(str(slot), ""))
    chassis.select_option(answer["chassis"])
    frame.get_by_label("Supply", exact=True).select_option(answer["supply"])
    if solution.ask["loads"]:
        write(frame.get_by_label("Load at 5 V, in mA", exact=True), answer["at_5"])
        write(frame.get_by_label("Load at 24 V, in mA", exact=True), answer["at_24"])


HANDS: dict[str, Hand] = {
    "several": tick_boxes,
    "pairs": fill_cells,
    "quantity": write_line,
    "spot": point,
    "review": mark_drawing,
    "supply_position": write_line,
    "direct_address": write_line,
    "term": write_line,
    "written": write_line,
    "choice": choose_option,
    "address_plan": write_addresses,
    "table": fill_cells,
    "frame": fill_cells,
    "switches": turn_switches,
    "io_map": lay_map,
    "plan_board": plan_board,
    "ladder": draw_ladder,
    "measured": write_reading,
    "sign_off": tick_items,
    "sequence": move_steps,
    "diagnosis": diagnose,
    "wiring": wire_up,
    "whole_plan": fill_plan,
    "test_plan": tick_steps,
    "choose_modules": fill_slots,
}
