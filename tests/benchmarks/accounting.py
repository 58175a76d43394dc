"""Where the time goes: each second is put to the innermost of the named functions at work."""

from __future__ import annotations

import sys
import time
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from functools import partial, reduce, wraps
from importlib import import_module
from typing import Any

Clock = Callable[[], float]
OURS = "labrum"


@dataclass(frozen=True)
class EntryPoint:
    """A function of ``module``, or a method written ``Class.method``, whose time counts as ``category``.

    ``returns_solve``: callables among what it returns count as well.
    """

    module: str
    name: str
    category: str
    returns_solve: bool = False


ASSEMBLY, FACTORISATION, CONTACT = "assembly", "factorisation", "contact search"
CATEGORIES = (ASSEMBLY, FACTORISATION, CONTACT)
ENTRY_POINTS = (
    EntryPoint("labrum.simulate.equilibrium.linearised", "linearise", ASSEMBLY),
    EntryPoint("labrum.simulate.equilibrium.linearised", "Linearised.step_to_travel", ASSEMBLY),
    EntryPoint("labrum.simulate.equilibrium.linearised", "Linearised.step_to_force", ASSEMBLY),
    EntryPoint("labrum.simulate.tissue.elements", "Elements.forces", ASSEMBLY),
    EntryPoint("labrum.simulate.tissue.elements", "Elements.smallest_ratio", ASSEMBLY),
    EntryPoint("labrum.simulate.equilibrium.model", "contact_forces", ASSEMBLY),
    EntryPoint("labrum.simulate.equilibrium.sparse", "factorise", FACTORISATION, returns_solve=True),
    EntryPoint("labrum.simulate.contact.signorini", "Pair.look", CONTACT),
    EntryPoint("labrum.simulate.contact.signorini", "frame_of", CONTACT),
    EntryPoint("labrum.simulate.contact.signorini", "updated", CONTACT),
)
"""Edit this table when a name moves; one that has vanished is an error, not a category that stays empty."""


@dataclass
class Account:
    """Seconds by ``clock`` spent in each category, those in a category called from it left out; and calls of each name.

    The clock counts this process's work on all its threads, not what else the machine does.
    """

    clock: Clock = time.process_time
    seconds: defaultdict[str, float] = field(default_factory=lambda: defaultdict(float))
    calls: Counter[str] = field(default_factory=Counter)
    _inside: list[float] = field(default_factory=list)

    @contextmanager
    def at(self, category: str) -> Iterator[None]:
        """Put the time until the block ends to ``category``, less what is put elsewhere meanwhile."""
        started = self.clock()
        self._inside.append(0.0)
        try:
            yield
        finally:
            spent = self.clock() - started
            self.seconds[category] += spent - self._inside.pop()
            if self._inside:
                self._inside[-1] += spent

    def timed(self, entry: EntryPoint, function: Callable[..., Any]) -> Callable[..., Any]:
        """Wrap a function so that its time is accounted for."""

        @wraps(function)
        def accounted(*args: Any, **named: Any) -> Any:
            self.calls[entry.name] += 1
            with self.at(entry.category):
                found = function(*args, **named)
            return self._solves_of(found, entry) if entry.returns_solve else found

        return accounted

    def _solves_of(self, found: Any, entry: EntryPoint) -> Any:
        if isinstance(found, tuple):
            return tuple(self._solves_of(part, entry) for part in found)
        solve = EntryPoint(entry.module, f"{entry.name}'s solve", entry.category)
        return self.timed(solve, found) if callable(found) else found

    def shares(self, total: float) -> dict[str, float]:
        """Percent of ``total`` seconds by category, and what is left."""
        share = {f"{name.replace(' ', '_')}_percent": 100.0 * self.seconds[name] / total for name in CATEGORIES}
        return {**share, "all_else_percent": 100.0 - sum(share.values())}


@contextmanager
def accounted_for(account: Account, entries: Sequence[EntryPoint] = ENTRY_POINTS) -> Iterator[None]:
    """Put the time of every entry point to ``account`` while the block runs; `LookupError` where one has vanished."""
    with ExitStack() as stack:
        for entry in entries:
            stack.enter_context(wrapped(entry, partial(account.timed, entry)))
        yield


@contextmanager
def wrapped(entry: EntryPoint, wrap: Callable[[Callable[..., Any]], Callable[..., Any]]) -> Iterator[None]:
    """Put a wrapped function in the place of an entry point, wherever it has been imported to, while the block runs."""
    owner, name, original = found(entry)
    new = wrap(original)
    if isinstance(owner, type):
        setattr(owner, name, new)
    else:
        _swap(original, new)
    try:
        yield
    finally:
        if isinstance(owner, type):
            setattr(owner, name, original)
        else:
            _swap(new, original)


def found(entry: EntryPoint) -> tuple[Any, str, Callable[..., Any]]:
    """The module or class that holds an entry point, its name there, and the function; `LookupError` where it is not.

    A method counts as a class's own only where that class defines it.
    """
    *path, name = entry.name.split(".")
    try:
        owner = reduce(getattr, path, import_module(entry.module))
        function = vars(owner)[name]
    except (ImportError, AttributeError, KeyError) as error:
        raise LookupError(f"{entry.module}.{entry.name} is gone: edit ENTRY_POINTS in {__file__}") from error
    if not callable(function):
        raise LookupError(f"{entry.module}.{entry.name} cannot be called: edit ENTRY_POINTS in {__file__}")
    return owner, name, function


def _swap(old: Callable[..., Any], new: Callable[..., Any]) -> None:
    """Replace a function in every module of ours, for those that import it by name hold it too."""
    for name, module in list(sys.modules.items()):
        if name.partition(".")[0] == OURS and module is not None:
            for key in [key for key, value in vars(module).items() if value is old]:
                setattr(module, key, new)
