"""Modules that are imported when something of them is first asked for, so that the window comes up without them."""

from __future__ import annotations

from importlib import import_module
from types import ModuleType


class Later(ModuleType):
    """Stands for a module until it is needed, and from then on passes on what is asked of it.

    It is declared beside the import that it puts off, which tells the type checker what the module has:

        if TYPE_CHECKING:
            from sporebank.jobs import scanning
        else:
            scanning = Later("sporebank.jobs.scanning")
    """

    def __getattr__(self, name: str) -> object:
        return getattr(import_module(self.__name__), name)
