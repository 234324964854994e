"""Proof-reading a lab over many draws: what is wrong, where, and what mends it.

Pure: nothing is printed here. `proof` returns a `Report`; each finding in it is a type of its own,
in the module of its family.
"""

from labkit.lab.proofing.accepting import Stands
from labkit.lab.proofing.engine import PROOF_SEED, Report, proof
from labkit.lab.proofing.findings import Finding, Severity, Share
from labkit.lab.proofing.reading import Unreadable
from labkit.lab.proofing.sharing import proof_file

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
