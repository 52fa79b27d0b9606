"""The records of a case, by the name that the generators know them by."""

from ..case import Answer, Case, Settling, Stream, Truth

__all__ = ["Answer", "Case", "Settling", "Stream", "Truth"]
