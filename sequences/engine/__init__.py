"""How procedures act: what they may request, what a run emits, and the engine that carries it out."""
