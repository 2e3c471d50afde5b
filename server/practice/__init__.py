"""The practice bench: its process, and the hands that move leads and turn adjusters there."""
