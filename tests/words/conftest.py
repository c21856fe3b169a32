"""The walkers through the demo laboratory."""

from tests.walk.conftest import laboratory, walker

__all__ = ["laboratory", "walker"]
