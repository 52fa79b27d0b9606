"""The simulated set against facts from outside, and against itself."""
