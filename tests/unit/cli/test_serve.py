"""The app is refused to every address but this computer's."""

from __future__ import annotations

import pytest

from festoon.cli.exits import Exit
from festoon.cli.main import run


@pytest.mark.parametrize("host", ["0.0.0.0", "192.0.2.1", "somewhere.example"])
def test_another_host_is_refused(host: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Until there are accounts; nothing is opened."""
    assert run(["serve", "--host", host]) == Exit.COMMAND_WRONG
    assert "this computer only" in capsys.readouterr().err
