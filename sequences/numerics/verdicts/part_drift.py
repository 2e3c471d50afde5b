"""What a frequency that will not come right says of the parts: by how much a capacitance or inductance has drifted."""

from dataclasses import dataclass

from sequences.numerics.figures import Estimate

SURE_SIGMAS = 2.0


@dataclass(frozen=True, slots=True)
class PartDrift:
    """The change of the circuit's L times C that explains the frequency.

    `share`: of the total capacitance (or inductance) in circuit, 0.01 for one percent more. `change_f`: the same in
    farads, where the total capacitance was told.
    """

    share: Estimate
    change_f: Estimate | None
    text: str


def drift_behind(wanted_hz: float, actual_hz: Estimate, total_capacitance_f: float | None = None) -> PartDrift:
    """Find the drift of a part behind a frequency: dC/C = (wanted / actual)^2 - 1, which for little is -2 df/f.

    The total in circuit counts: gang, strays and trimmer together.

    Raises:
        ValueError: where a frequency is not above zero.
    """
    if not (wanted_hz > 0.0 and actual_hz.value > 0.0):
        raise ValueError("A drift is told from two frequencies above zero.")
    ratio = (wanted_hz / actual_hz.value) ** 2
    share = Estimate(ratio - 1.0, 2.0 * ratio * actual_hz.sigma / actual_hz.value)
    change = None
    if total_capacitance_f is not None:
        change = Estimate(share.value * total_capacitance_f, share.sigma * total_capacitance_f)
    return PartDrift(share, change, _say(share, change))


def _say(share: Estimate, change_f: Estimate | None) -> str:
    if abs(share.value) <= SURE_SIGMAS * share.sigma:
        return "The frequency is right within its uncertainty: no part needs to have drifted."
    way = "more" if share.value > 0.0 else "less"
    farads = f", about {abs(change_f.value) * 1e12:.3g} pF," if change_f is not None else ""
    return (
        f"The circuit acts as if it had {abs(share.value) * 100.0:.2g} ± {share.expanded * 100.0:.1g} % {way} "
        f"capacitance{farads} than it was made with, or as much {way} inductance: suspect its fixed capacitor first."
    )
