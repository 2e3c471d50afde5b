"""Pure functions, arrays in, frozen results out, with their uncertainties and named doubts. numpy and scipy only."""
