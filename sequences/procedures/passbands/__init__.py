"""The passband of an IF, and the symmetry of its control."""
