"""Instruments on the wire: SCPI, volts, hertz and error queues. Nothing here has heard of a receiver."""
