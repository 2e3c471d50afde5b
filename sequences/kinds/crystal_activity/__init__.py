"""Crystal activity: how hard each band's crystal oscillates, told at a test point."""

from sequences.kinds.crystal_activity.layout import NAME, steps
from sequences.kinds.crystal_activity.procedure import ACTIVITY, VOLTAGE, crystal_activity
from sequences.procedures.kind import Kind

KIND = Kind(NAME, steps, crystal_activity, (VOLTAGE, ACTIVITY))
