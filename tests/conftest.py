"""Shared fixtures."""

from __future__ import annotations

from pathlib import Path

import pytest

import monitor  # noqa: F401 - before any test loads numpy: a second thread only slows its small matrices

ROOT = Path(__file__).resolve().parent.parent


@pytest.fixture(scope="session")
def shared() -> Path:
    """The folder of published tables and recorded feeds beside the checkout; absent on most machines."""
    folder = ROOT.parent / "shared"
    if not (folder / "reference").is_dir():
        pytest.skip("no ../shared here")
    return folder


@pytest.fixture(scope="session")
def config() -> Path:
    """The shipped settings."""
    return ROOT / "config"
