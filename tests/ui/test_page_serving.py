"""How the page is started."""

from __future__ import annotations

import socket

import pytest

from ui.serving import ADDRESS, ServingError, options, script, serve


def test_it_listens_on_the_loopback_alone_and_sends_nothing() -> None:
    told = options(9000)
    assert "--server.address=127.0.0.1" in told
    assert "--server.port=9000" in told
    assert "--server.headless=true" in told
    assert "--browser.gatherUsageStats=false" in told


def test_the_script_is_there_alone() -> None:
    assert [path.name for path in script().parent.iterdir() if not path.name.startswith("__")] == ["page.py"]


def test_a_taken_port_is_refused() -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as taken:
        taken.bind((ADDRESS, 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(ServingError, match=str(port)):
            serve(None, port, False)
