"""What holds for every test."""

import pytest


@pytest.fixture(autouse=True)
def _settings_of_nobody(monkeypatch, tmp_path):
    """No test depends on the settings of whoever runs it."""
    monkeypatch.setenv("READBACK_SETTINGS", str(tmp_path / "no-settings.toml"))
