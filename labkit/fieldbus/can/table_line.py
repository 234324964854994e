"""One line of a CAN log as a comma separated table, the form that python-can writes as CSV.

    timestamp,arbitration_id,extended,remote,error,dlc,data
    12.345678,0x42f,0,0,0,2,AAE=

The data is in base64 (RFC 4648). The grammar is written here from python-can's documentation and
checked against its writer; a table has one interface, of no name.
"""

import math
import re
from base64 import b64decode
from typing import Final

from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.text_lines import short

HEADER: Final = "timestamp,arbitration_id,extended,remote,error,dlc,data"
"""The first line of such a table."""
_ROW: Final = re.compile(
    r"(\d+(?:\.\d+)?(?:e-?\d{1,3})?),0x([0-9a-fA-F]{1,8}),([01]),([01]),([01]),(\d{1,2}),"
    r"([A-Za-z0-9+/]*={0,2})",
    re.ASCII,
)


def read_row(line: str) -> tuple[float, Frame | int]:
    """The time in s of a row, and its frame, or the identifier of an error. Raises `PlanError`."""
    found = _ROW.fullmatch(line)
    if found is None:
        raise PlanError(f"{short(line)} is no row of a table of CAN frames.")
    time_s, identifier = float(found[1]), int(found[2], 16)
    extended, remote, error = (found[at] == "1" for at in (3, 4, 5))
    if not math.isfinite(time_s):
        raise PlanError(f"The time of {short(line)} is too large to be one.")
    if error:
        return time_s, identifier
    if remote:
        return time_s, Frame.remote_request(identifier, int(found[6]), extended=extended)
    try:
        data = b64decode(found[7], validate=True)
    except ValueError as wrong:
        raise PlanError(f"The data of {short(line)} is no base64.") from wrong
    if len(data) != int(found[6]):
        raise PlanError(f"{short(line)} says {found[6]} bytes and has {len(data)}.")
    return time_s, Frame(identifier, data, extended)
