"""A top that is cut off, since the meter or a stage before it can give no more: told by skirts that point higher.

Filters of many poles have flat tops too, but steep skirts; a flat top between the skirts of one circuit or a pair is
none of them.
"""

from dataclasses import dataclass, replace

import numpy as np

from sequences.numerics.arrays import Array
from sequences.numerics.responses import starts
from sequences.numerics.responses.candidates import Candidate, fit_curve, score
from sequences.numerics.responses.curves import SINGLE_CIRCUIT, SYMMETRICAL_PAIR, Curve
from sequences.numerics.responses.readings import Readings

_UNLIKELY_BEFOREHAND = 10.0
_BELOW_DB = 0.3
_LEAST_ON_SKIRTS = 12
_FIRST_SHAPE = 0.2
_UNIFORM = 12.0**-0.5


@dataclass(frozen=True)
class CutOff(Curve):
    """Another curve that nowhere rises above a ceiling in dB, its last parameter."""

    base: Curve

    @property
    def parameter_names(self) -> tuple[str, ...]:
        """The base's, and the ceiling."""
        return (*self.base.parameter_names, "ceiling_db")

    @property
    def name(self) -> str:
        """What the trade calls it."""
        return f"{self.base.name} with its top cut off"

    def level_and_jacobian(self, parameters: Array, frequency_hz: Array) -> tuple[Array, Array]:
        """See Curve."""
        level, jacobian = self.base.level_and_jacobian(parameters[..., :-1], frequency_hz)
        cut = level > parameters[..., -1, None]
        jacobian = np.concatenate((np.where(cut[..., None], 0.0, jacobian), cut[..., None]), axis=-1)
        return np.where(cut, parameters[..., -1, None], level), jacobian


def shown_by(readings: Readings, best: Candidate) -> Candidate | None:
    """The curve of one circuit or a pair to which the skirts point, if only a cut-off top explains the readings.

    How far the cut is below that is uncertain evenly, as stages round off before they limit (JCGM 100:2008, 4.3.7).
    """
    ceiling = float(np.median(np.sort(starts.smoothed(readings))[-5:]))
    skirts = readings.only(readings.level_db < ceiling - _BELOW_DB)
    if len(np.unique(skirts.frequency_hz)) < _LEAST_ON_SKIRTS:
        return None
    rough = starts.outline(readings)
    found: Candidate | None = None
    for base, shape in ((SINGLE_CIRCUIT, []), (SYMMETRICAL_PAIR, [_FIRST_SHAPE])):
        start = np.array([rough.top_hz, np.log(rough.width_hz), *shape, rough.top_db])
        alone = fit_curve(base, skirts, start)
        if not alone.settled:
            continue
        one = fit_curve(CutOff(base), readings, np.append(alone.parameters, ceiling))
        if one.settled and (found is None or one.score < found.score):
            found = one
    if found is None or found.score + _UNLIKELY_BEFOREHAND > best.score:
        return None
    return _uncut(found, readings)


def _uncut(one: Candidate, readings: Readings) -> Candidate | None:
    """The curve above the cut."""
    assert isinstance(one.curve, CutOff)  # noqa: S101 - made so above
    base, size = one.curve.base, len(one.parameters) - 1
    above_db = float(base.level_db(one.parameters[:size], readings.frequency_hz).max() - one.parameters[-1])
    if not above_db > 0.0:
        return None
    return replace(
        one,
        curve=base,
        parameters=one.parameters[:size],
        covariance=one.covariance[:size, :size],
        design=one.design[:size],
        score=score(one.cost, len(readings), size + 1),
        top_sigma_db=_UNIFORM * above_db,
        cut_db=above_db,
    )
