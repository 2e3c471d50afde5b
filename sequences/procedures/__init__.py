"""One module for each kind of measurement: generators that yield requests and never touch an instrument."""
