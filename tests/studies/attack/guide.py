"""Which branches of the program an input takes that none before it took; needs Python 3.12, else it sees nothing."""

from __future__ import annotations

import sys
from collections import defaultdict
from types import CodeType
from typing import Any

FOLLOWED = ("labrum", "ezdxf", "tomllib")
TOOL = 4


class Guide:
    """Watches the branches of what is called; `news` tells whether new ones were taken since it was last asked."""

    def __init__(self) -> None:
        self.branches = 0
        self._taken: defaultdict[tuple[CodeType, int], set[int]] = defaultdict(set)
        self._told = 0
        self._followed: dict[CodeType, bool] = {}
        self.works = sys.version_info >= (3, 12)
        if self.works:
            self._begin()

    def news(self) -> bool:
        """Whether there are new branches."""
        told, self._told = self._told, self.branches
        return self.branches > told

    def _begin(self) -> None:
        watch: Any = sys.monitoring  # type: ignore[attr-defined,unused-ignore]
        watch.use_tool_id(TOOL, "attack")
        disable, taken, followed = watch.DISABLE, self._taken, self._followed

        def branch(code: CodeType, start: int, to: int) -> Any:
            if code not in followed:
                followed[code] = any(f"/{name}/" in code.co_filename or f"/{room}/" in code.co_filename
                                     for name in FOLLOWED for room in ROOMS)  # fmt: skip
            if not followed[code]:
                return disable
            ways = taken[code, start]
            if to not in ways:
                ways.add(to)
                self.branches += 1
            return disable if len(ways) > 1 else None

        watch.register_callback(TOOL, watch.events.BRANCH, branch)
        watch.set_events(TOOL, watch.events.BRANCH)


ROOMS = ("cases", "meshes", "reports", "simulate")
"""The folders that `labrum` is, as they stand in the tree."""
