"""Shared fixtures."""

from __future__ import annotations

from pathlib import Path

import pytest

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
