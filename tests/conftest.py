"""No test of the project fails because the machine was slow: hypothesis watches no clock."""

from __future__ import annotations

from hypothesis import HealthCheck, settings

settings.register_profile("any machine", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("any machine")
