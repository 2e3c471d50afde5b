"""The alignment plan: its steps, their order, and what each says."""
