"""The dial's error over the scale, its cure, and three-point tracking."""
