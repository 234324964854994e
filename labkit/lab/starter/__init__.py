"""A small working lab to begin with: every kind of thing once, told in plain words."""

from __future__ import annotations

import json
import re
from importlib.resources import files
from typing import Final

_FILES: Final = {
    "devicenet": "lab.md",
    "modbus": "modbus.md",
    "canopen": "canopen.md",
    "none": "without_network.md",
}
_ID: Final = re.compile(r"[a-z0-9][a-z0-9-]{0,59}")


def is_lab_id(name: str) -> bool:
    """Whether a folder of this name can hold a lab: small letters, digits and '-'."""
    return _ID.fullmatch(name) is not None


def nearest_lab_id(name: str) -> str:
    """`name` made into an id, as an offer: "My first Lab" becomes "my-first-lab"."""
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:60] or "my-lab"


def starter_lab(lab_id: str, title: str, network: str = "devicenet") -> str:
    """The text of a new lab, about a line of a network family or, by "none", without one.

    Raises `ValueError` for an id that no lab can have.
    """
    if not is_lab_id(lab_id):
        raise ValueError(f"'{lab_id}' is no id of a lab")
    text = files(__name__).joinpath(_FILES[network]).read_text(encoding="utf-8")
    # In quotes a title may hold anything: JSON's are YAML's too.
    quoted = json.dumps(" ".join(title.split()), ensure_ascii=False)
    return text.replace("ID-OF-THE-LAB", lab_id).replace("TITLE-OF-THE-LAB", quoted)
