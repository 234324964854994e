"""The whole lab printed in the authoring guide works, and its tables name what there is."""

import re
from pathlib import Path

from labkit.lab import plugins
from labkit.lab.draw import draw
from labkit.lab.expression import function_names
from labkit.lab.kinds import check_for
from labkit.lab.networks.devicenet import DeviceNetFamily
from labkit.lab.reading import read_lab_text

GUIDE = (Path(__file__).parents[2] / "instructors" / "authoring.md").read_text(encoding="utf-8")


def test_the_lab_in_the_guide_is_read_drawn_and_explains_its_slips() -> None:
    found = re.search(r"````markdown\n(.*?)````", GUIDE, re.DOTALL)
    assert found
    lab = read_lab_text(found[1])
    scenario = draw(lab, "guide")
    prepared = scenario.prepare(lab.exercises[0])
    check = check_for("quantity")
    # Two 121 Ω terminators in parallel are 60.5 Ω; the trade reads "about 60".
    terminators, lead = scenario.names["terminators"], scenario.names["lead"]
    assert prepared.key["value"] == 121 / terminators + lead
    slip = check.check(prepared.ask, prepared.key, f"{121 / terminators} ohm")
    assert "leads" in slip.message
    assert slip.slip == "without-leads"


def test_the_guide_names_every_kind_and_every_function() -> None:
    for kind in plugins.names(plugins.READERS):
        assert f"| `{kind}` |" in GUIDE
    for name in function_names():
        assert re.search(rf"\b{name}\b", GUIDE), name
    for name in DeviceNetFamily.functions:
        assert re.search(rf"\b{name}\b", GUIDE), name
