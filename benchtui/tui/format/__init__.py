"""Numbers as text: how many digits, which prefix, when a number is too old. Pure; the one place for it.

Two rules: no digit that the meter does not show, and no rounding that contradicts the word beside it.
"""

from __future__ import annotations

from .reading import far as far
from .reading import near as near
from .steps import far_step as far_step
from .steps import shown_step as shown_step
from .times import age as age
from .times import clock as clock
from .times import is_old as is_old
from .times import left as left
from .times import soon as soon
from .times import until as until
from .value import DASHES as DASHES
from .value import Shown as Shown
from .value import finite as finite
from .value import number as number
from .value import plain_value as plain_value
from .value import prefix as prefix
from .value import state as state
from .value import tidy as tidy
from .words import beyond as beyond
from .words import drift as drift
from .words import expected as expected
from .words import interval as interval
from .words import label as label
from .words import limits as limits
from .words import of_reading as of_reading
from .words import pressed as pressed
from .words import rated as rated
