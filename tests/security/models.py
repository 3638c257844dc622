"""All pydantic models of the source."""

from __future__ import annotations

import importlib
import pkgutil

from pydantic import BaseModel

import benchctl.models


def all_models() -> list[type[BaseModel]]:
    """Every model that a module of `benchctl.models` defines, the base itself left out."""
    found = []
    for info in pkgutil.iter_modules(benchctl.models.__path__, "benchctl.models."):
        module = importlib.import_module(info.name)
        for value in vars(module).values():
            own = isinstance(value, type) and issubclass(value, BaseModel) and value.__module__ == info.name
            if own and value.__name__ != "Record":
                found.append(value)
    return found
