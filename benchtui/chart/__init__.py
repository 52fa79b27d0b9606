"""The files that people write: the voltage chart of a set, the meters of a bench, a person's settings."""
