"""What goes wrong with a sound input, as one sentence for the person."""

from drivers.errors import DriverError


class SoundError(DriverError):
    """The sound input cannot be used, or stopped."""
