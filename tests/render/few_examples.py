"""Drawing is slow beside other properties: a share of the profile's examples."""

from __future__ import annotations

from hypothesis import settings


def one_in(share: int) -> settings:
    """Settings with so many times fewer examples."""
    assert settings.default is not None
    return settings(max_examples=max(settings.default.max_examples // share, 1))
