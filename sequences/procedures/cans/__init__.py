"""IF cans: both slugs, by their edges or by step and fit."""
