"""The sound of a receiver as an instrument: tones, hum and noise in a record of samples, each with its uncertainty."""
