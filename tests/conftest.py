"""No test fails because the machine was slow, or by chance: hypothesis watches no clock, and makes the same
examples each time. Tests marked `long` make new ones."""

from __future__ import annotations

from hypothesis import HealthCheck, settings

settings.register_profile(
    "any machine", deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("any machine")
