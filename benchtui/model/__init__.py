"""The words of the bench, as types: units, readings, notes, findings, errors. Imports nothing of ours."""
