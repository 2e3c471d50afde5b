"""An IF can: a pair of tuned circuits with a slug each."""

from sequences.kinds.if_can.can_edges import HUMPS
from sequences.kinds.if_can.can_slugs import COUPLING, DIP
from sequences.kinds.if_can.layout import NAME, steps
from sequences.kinds.if_can.procedure import if_can
from sequences.procedures.adjusting.circuit_findings import QUANTITIES
from sequences.procedures.kind import Kind

KIND = Kind(NAME, steps, if_can, (*QUANTITIES, COUPLING, DIP, HUMPS))
