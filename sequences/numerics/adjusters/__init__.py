"""From readings to how far an adjuster is to be turned, and when to stop."""
