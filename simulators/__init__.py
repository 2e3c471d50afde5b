"""SCPI instruments on real TCP sockets, wired to simulated receivers. A program of its own, with its own formulas."""
