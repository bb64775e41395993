"""What somebody else did in the meantime, and what does not fit together."""

from __future__ import annotations

from typing import Any

from render.errors import TenthstopError


class ConflictError(TenthstopError):
    """What somebody else did in the meantime stands in the way.

    on_disk : whether it is the file that has changed, not the version of the page
    both    : keys that both have changed, where these are what stands in the way
    """

    def __init__(
        self, words: str, on_disk: bool = False, both: list[dict[str, Any]] | None = None
    ) -> None:
        super().__init__(words)
        self.on_disk, self.both = on_disk, both


class RefusedError(TenthstopError):
    """A change that the scene cannot take.

    instead : the same change with what does not fit taken off, which it can
    """

    def __init__(self, words: str, instead: dict[str, Any]) -> None:
        super().__init__(words)
        self.instead = instead
