"""Sound inputs: where samples of a receiver's sound come from. Knows samples a second; has never heard of a tone."""
