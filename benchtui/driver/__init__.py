"""The open door for wire formats: the contract, framing, the catalogue, the listener, the contract kit."""
