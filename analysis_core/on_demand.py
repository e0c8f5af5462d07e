"""Names of a package that are imported when they are first asked for, so that who asks for one does not wait for all."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any


def on_demand(package: str, places: Mapping[str, tuple[str, str]]) -> tuple[Callable[[str], Any], Callable[[], list[str]]]:
    """A package's ``__getattr__`` and ``__dir__``. places: name -> module within the package, and what it is called there.

    A name must not be that of a module of the package: what is asked for would depend on whether that is loaded.
    """

    def find(name: str) -> Any:
        if name not in places:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        module, there = places[name]
        return getattr(import_module(f".{module}", package), there)

    return find, lambda: sorted(places)
