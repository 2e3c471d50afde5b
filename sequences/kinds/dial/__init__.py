"""The dial: how far off it is over its scale, its ends, and its pointer."""

from sequences.kinds.dial.layout import NAME, steps
from sequences.kinds.dial.procedure import dial
from sequences.procedures.dials.dial_findings import QUANTITIES
from sequences.procedures.kind import Kind

KIND = Kind(NAME, steps, dial, QUANTITIES)
