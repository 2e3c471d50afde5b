"""The bench as the service has it: its file, its one thread, and how a run is stopped and kept."""
