"""Recomputes an alignment's figures from the exported readings alone, with numpy, scipy and lmfit and none of ours.

What is taken from the export: of each run its `readings.csv` (what the source stood at and what the instruments read)
and, from its `run.json`, which step it was for and when which control was set. What a figure means is written down here
once more: the 3 dB points are the outermost crossings 10 lg 2 dB below the top, a centre lies midway between them, a
zero beat is where two beats beside it are equal, a level is 20 times the logarithm of a voltage ratio.
"""
