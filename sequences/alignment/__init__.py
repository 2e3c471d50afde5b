"""An alignment under way: what each step came to, where it stands, what may come next."""
