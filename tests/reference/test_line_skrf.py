"""The line's frequency response against scikit-rf: a trunk with an open drop in the middle.

A short pulse through the line, divided frequency by frequency by the pulse that went in, must
give half of the cascade's S21 (a generator and a load of the reference impedance).
"""

import math
from collections.abc import Sequence

import numpy as np
import pytest
import skrf
from skrf.media import DefinedGammaZ0

from labkit.fieldbus.line import LinePiece, LineTopology, Terminator, inject

REFERENCE_OHM = 120.0
STEP_S = 0.5e-9
COUNT = 32_768
MOST_HZ = 40e6


def spectrum(samples: Sequence[float]) -> np.ndarray:
    return np.fft.rfft(np.array(samples), COUNT)


def pulse() -> list[float]:
    """A bell of 2 ns, so that 40 MHz is well inside what it holds and what steps can carry."""
    return [math.exp(-(((k * STEP_S - 20e-9) / 2e-9) ** 2)) for k in range(COUNT)]


def medium(frequency: skrf.Frequency, piece: LinePiece) -> DefinedGammaZ0:
    """Telegrapher's equations without leakage: γ² = (R + jωL) jωC and Z² = (R + jωL) / jωC."""
    omega = 2 * np.pi * frequency.f
    series = piece.ohm_per_m + 1j * omega * piece.impedance_ohm * piece.delay_s_per_m
    shunt = 1j * omega * piece.delay_s_per_m / piece.impedance_ohm
    return DefinedGammaZ0(
        frequency,
        gamma=np.sqrt(series * shunt),
        z0=np.sqrt(series / shunt),
        z0_port=REFERENCE_OHM,
    )


@pytest.mark.parametrize("loss", [0.0, 0.0452, 0.1838])
@pytest.mark.parametrize("impedance", [100.0, 120.0])
@pytest.mark.parametrize("drop", [1.0, 2.0, 6.0])
def test_a_drop_in_the_middle(drop: float, impedance: float, loss: float) -> None:
    first = LinePiece("first", "near", "tap", 10.0, impedance, 4.46e-9, loss)
    stub = LinePiece("stub", "tap", "device", drop, 120.0, 5.1e-9, loss)
    second = LinePiece("second", "tap", "far", 17.3, 120.0, 4.46e-9, loss)
    line = LineTopology([first, stub, second], [Terminator("end", "far", REFERENCE_OHM)])
    waves = inject(line, "near", REFERENCE_OHM, pulse(), STEP_S)
    hertz = np.fft.rfftfreq(COUNT, STEP_S)
    inside = (hertz > 0.2e6) & (hertz < MOST_HZ)
    ours = spectrum(waves.at("far"))[inside] / spectrum(pulse())[inside]
    frequency = skrf.Frequency.from_f(hertz[inside], unit="Hz")
    cascade = (
        medium(frequency, first).line(first.metres, "m")
        ** medium(frequency, stub).shunt_delay_open(stub.metres, "m")
        ** medium(frequency, second).line(second.metres, "m")
    )
    theirs = cascade.s[:, 1, 0] / 2
    assert np.max(np.abs(ours - theirs)) < 0.005
    # a quarter of a wavelength in the drop short-circuits the trunk at the tap
    notch = hertz[inside][np.argmin(np.abs(ours))]
    quarter = 1 / (4 * stub.delay_s)
    if quarter < MOST_HZ:
        assert notch == pytest.approx(quarter, rel=0.02)
    assert 0.2 < np.max(np.abs(theirs)) <= 0.5 * 1.01
