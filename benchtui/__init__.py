"""BenchTUI: a second pair of eyes on the bench for people who restore valve radios and amplifiers.

The road a byte takes: port -> driver -> readings -> timeline (store) -> watch -> findings
-> tui, cli, report.
"""

__version__ = "0.1.0"
