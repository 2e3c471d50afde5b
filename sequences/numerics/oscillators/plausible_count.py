"""Whether a count can be the oscillator's that it is meant for; where it cannot, what it is likely to be of."""

from collections.abc import Mapping

from sequences.numerics.wording import say_hz

FAR = 0.1
"""Of the nominal frequency: no slug, trimmer or aged part takes an oscillator farther, but a lead on another point or
a band not set does (common practice, no source)."""

NEAR = 0.02
"""Of the nominal frequency: nearer than this a count is the oscillator's, whatever else is near."""

ALIKE = 0.005
"""Of another oscillator's frequency: a count as near to it as this is that oscillator's."""

MULTIPLES = {2.0: "twice", 3.0: "three times", 0.5: "half"}


def doubt_of_count(counted_hz: float, nominal_hz: float, others_hz: Mapping[str, float]) -> str | None:
    """Say what is odd about a count and what it is likely to be of; None where it makes sense.

    Args:
        counted_hz: What the counter reads.
        nominal_hz: What is expected there, above zero.
        others_hz: Other oscillators that run meanwhile, by their names.
    """
    off = abs(counted_hz / nominal_hz - 1.0)
    if off <= NEAR:
        return None
    named = next((name for name, other in others_hz.items() if abs(counted_hz / other - 1.0) <= ALIKE), None)
    if off <= FAR and named is None:
        return None
    odd = f"The counter reads {say_hz(counted_hz)}, and about {say_hz(nominal_hz)} is expected."
    return f"{odd} {_likely(counted_hz, nominal_hz, named)}"


def _likely(counted_hz: float, nominal_hz: float, named: str | None) -> str:
    if named is not None:
        return f"That is the frequency of the {named}."
    for factor, said in MULTIPLES.items():
        if abs(counted_hz / (factor * nominal_hz) - 1.0) <= NEAR:
            return f"That is {said} what is expected: the counter may count a harmonic, or miss every other cycle."
    return "The lead may be on another point, or a band or a control may not be set."
