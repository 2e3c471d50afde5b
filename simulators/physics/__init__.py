"""The receivers' physics, by nodal analysis and time constants. Pure: time and seeds are arguments."""
