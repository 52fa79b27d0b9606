"""The edge where bytes come in: the clock, the one port opener, a link a port, and the intake they fill."""
