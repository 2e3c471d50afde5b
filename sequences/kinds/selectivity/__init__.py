"""Selectivity: how wide the receiver is at 6 and at 60 dB, at every width it has, by constant output."""

from sequences.kinds.selectivity.figures import QUANTITIES
from sequences.kinds.selectivity.layout import NAME, steps
from sequences.kinds.selectivity.procedure import selectivity
from sequences.procedures.kind import Kind

KIND = Kind(NAME, steps, selectivity, QUANTITIES)
