"""Proof-reading a lab over many draws: what is wrong, where, and what mends it.

Pure: nothing is printed here. `proof` returns a `Report`; each finding in it is a type of its own,
in the module of its family.
"""

from labkit.proofing.accepting import Stands
from labkit.proofing.engine import Report, proof
from labkit.proofing.findings import Finding, Severity, Share
from labkit.proofing.reading import Unreadable
from labkit.proofing.sample import PROOF_SEED
from labkit.proofing.sharing import proof_file

__all__ = [
    "PROOF_SEED",
    "Finding",
    "Report",
    "Severity",
    "Share",
    "Stands",
    "Unreadable",
    "proof",
    "proof_file",
]
