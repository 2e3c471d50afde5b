"""The parts of the page as HTML: what the API tells, in words and rounded, for a page that only swaps them in."""
