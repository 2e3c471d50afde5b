"""A receiver that somebody described in a receiver file: made up from what the file says, its parts drawn by seed.

The file is read here anew and by itself, as this program shares nothing with the one that checks it.
"""
