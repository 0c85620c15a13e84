"""The kinds of check, one file each. A file of this folder with a ``KIND`` is a kind; nothing else needs to know of it."""

from __future__ import annotations

import importlib.util
import pkgutil
from collections.abc import Iterable, Iterator, Mapping
from importlib import import_module
from pathlib import Path
from types import ModuleType

from benchrecord.checks.kind import Kind
from benchrecord.model.table import KindSchema


def all_kinds(more: Iterable[Path] = ()) -> dict[str, Kind]:
    """Return every kind by name: those of this folder, and those of further files.

    Raises
    ------
    ValueError
        Where a further file has no ``KIND``.
    """
    modules = [import_module(f"{__name__}.{found.name}") for found in pkgutil.iter_modules(__path__)]
    own = (module.KIND for module in modules if hasattr(module, "KIND"))
    return {kind.schema.name: kind for kind in (*own, *_from_files(more))}


def schemas(kinds: Mapping[str, Kind]) -> dict[str, KindSchema]:
    """Return what intake must know of each kind."""
    return {name: kind.schema for name, kind in kinds.items()}


def _from_files(paths: Iterable[Path]) -> Iterator[Kind]:
    for path in paths:
        module = _load(path)
        if not isinstance(getattr(module, "KIND", None), Kind):
            raise ValueError(f"{path} holds no KIND: a kind of check is a file with KIND = Kind(...)")  # noqa: TRY004  # the file is wrong, not a type
        yield module.KIND


def _load(path: Path) -> ModuleType:
    spec = importlib.util.spec_from_file_location(f"benchrecord_kind_{path.stem}", path)
    if spec is None or spec.loader is None or not path.is_file():
        raise ValueError(f"{path} is no Python file")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module
