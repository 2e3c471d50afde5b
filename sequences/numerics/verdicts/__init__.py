"""From a figure and its limit to what is to be done."""
