"""Gain control: over how many decibels of input it holds the output, and how quickly."""

from sequences.kinds.gain_control.layout import NAME, steps
from sequences.kinds.gain_control.procedure import QUANTITIES, gain_control
from sequences.procedures.kind import Kind

KIND = Kind(NAME, steps, gain_control, QUANTITIES)
