"""Published formulae, each with its source: noise, curves, trends, sequential and exact tests, conformity.

Pure: numbers in, numbers out; no clock, no I/O, no random numbers. Nothing here knows of meters or valves.
"""
