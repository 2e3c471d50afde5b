"""The preselector: what is tuned before the first mixer, with its knob or its gang."""

from sequences.kinds.preselector import preselector_figures
from sequences.kinds.preselector.layout import NAME, steps
from sequences.kinds.preselector.procedure import preselector
from sequences.procedures.adjusting import circuit_findings
from sequences.procedures.kind import Kind

KIND = Kind(NAME, steps, preselector, (*circuit_findings.QUANTITIES, *preselector_figures.QUANTITIES))
