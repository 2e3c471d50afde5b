"""From counts, beats and voltages to what is wrong with an oscillator."""
