"""The preselector and other single peaks, and rocking the gang."""
