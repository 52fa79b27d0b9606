"""Cases from sets solved as electrical networks; shares no code with the other generators or the program."""

from .making import make
from .scenes import scene_of

__all__ = ["make", "scene_of"]
