"""The scripts of CI as modules, for their tests."""

from __future__ import annotations

import sys
from importlib.machinery import SourceFileLoader
from importlib.util import module_from_spec, spec_from_loader
from pathlib import Path
from types import ModuleType

FOLDER = Path(__file__).parents[2] / ".ci"


def script(name: str) -> ModuleType:
    """Return the script ``name``, which has no ending, without leaving compiled files."""
    loader = SourceFileLoader(f"{name}_of_ci", str(FOLDER / name))
    spec = spec_from_loader(loader.name, loader)
    assert spec is not None
    module = module_from_spec(spec)
    sys.dont_write_bytecode, before = True, sys.dont_write_bytecode
    loader.exec_module(module)
    sys.dont_write_bytecode = before
    return module
