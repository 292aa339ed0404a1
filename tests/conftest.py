"""Settings all tests share: property tests draw the same examples every time, without a clock."""

from __future__ import annotations

from hypothesis import HealthCheck, settings

settings.register_profile(
    "house",
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
settings.register_profile("search", parent=settings.get_profile("house"), derandomize=False)
settings.load_profile("house")
