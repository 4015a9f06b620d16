"""Heavy libraries, imported where they are used, with words for who has not installed them."""

from __future__ import annotations

import importlib
from typing import Any

GROUP = "bodies"
"""The optional-dependency group that holds them."""


class MissingLibraryError(RuntimeError):
    """A feature needs an optional library that is not installed."""


def need(module: str, feature: str) -> Any:
    """The module, or an error that names the feature and what to install.

    Raises
    ------
    MissingLibraryError
        If the library is not installed.
    """
    try:
        return importlib.import_module(module)
    except ImportError as missing:
        raise MissingLibraryError(
            f"{feature} needs the library {module.partition('.')[0]}: install it with  pip install 'festoon[{GROUP}]'"
        ) from missing
