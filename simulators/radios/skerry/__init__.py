"""The Skerry 7: an invented triple-conversion HF receiver with valves."""
