"""Same seed, same scenario, on any machine and Python: the numbers of thirty scenarios, hashed.

The hash was the same on CPython 3.11.7, 3.12.1 and 3.13.0. It changes when the lab's ranges, its
rules or a calculation change: then look at what changed, and run this on three Pythons again.
"""

import json
from hashlib import sha256
from pathlib import Path

from labkit.lab.draw import draw
from labkit.lab.reading import read_lab

LAB = Path(__file__).parents[2] / "labs" / "plan-the-trunk" / "lab.md"


def test_thirty_scenarios_have_the_numbers_they_had_on_other_pythons() -> None:
    lab = read_lab(LAB)
    digest = sha256()
    for number in range(30):
        names = draw(lab, f"everywhere {number}").names
        known = {*(parameter.name for parameter in lab.parameters), *lab.derived}
        plain = {name: names[name] for name in sorted(known) if not hasattr(names[name], "to_json")}
        # repr writes every bit of a float: a difference in the last one would show.
        digest.update(json.dumps(plain, default=repr).encode())
    assert digest.hexdigest() == "27568cee34d6b22d4e1e285ef0eb1a1abe4e10cb43a16e08657024b7e673e0ed"
