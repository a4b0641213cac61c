"""A place without room: files that cannot grow, as the system itself refuses it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import pytest


@contextmanager
def files_up_to(size: int) -> Iterator[None]:
    """Let no file of this process grow beyond so many bytes; a test is skipped where a system has no such limit."""
    resource = pytest.importorskip("resource")
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
