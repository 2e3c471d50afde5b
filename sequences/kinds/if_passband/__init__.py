"""The passband of an IF: its centre, its widths and how lopsided it is."""

from sequences.kinds.if_passband.layout import NAME, steps
from sequences.kinds.if_passband.passband_findings import SKEW, WIDTH_ERROR
from sequences.kinds.if_passband.procedure import if_passband
from sequences.procedures.adjusting.circuit_findings import QUANTITIES
from sequences.procedures.kind import Kind

KIND = Kind(NAME, steps, if_passband, (*QUANTITIES, WIDTH_ERROR, SKEW))
