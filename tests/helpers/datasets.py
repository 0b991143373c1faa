"""Finds the open data that some checks read: beside the checkout, or in the folder that SAMECHANGES_DATASETS names."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

_BESIDE = Path(__file__).resolve().parents[2].parent / "shared" / "datasets"


def dataset(name: str) -> Path:
    """The folder of one data set; the test that asks is skipped, saying why, where it is absent."""
    folder = Path(os.environ.get("SAMECHANGES_DATASETS") or _BESIDE) / name
    if not folder.is_dir():
        pytest.skip(f"no data set {name!r}: there is no folder {folder} (SAMECHANGES_DATASETS names another place)")
    return folder
