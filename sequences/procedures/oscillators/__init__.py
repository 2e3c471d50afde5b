"""Warm-up, fixed oscillators by counter, beat or ear, and the activity of crystals."""
