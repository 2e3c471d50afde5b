"""The receiver as its file describes it, and what follows from that: frequencies, windows, hookups, contradictions."""
