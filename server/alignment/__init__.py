"""An alignment carried out: the walk through a step, who is asked, and what is kept of it."""
