"""Starts the web page: Streamlit, on the loopback address alone, sending nothing anywhere.

Conventions: everything that Streamlit has to be told stands on its command line, so that the page works from an
installed package, from any folder, whatever settings of other projects lie about.
"""

from __future__ import annotations

import os
import socket
import sys
import threading
import time
from pathlib import Path

from corpus.library import VARIABLE
from shared.errors import SamechangesError

ADDRESS = "127.0.0.1"
FIRST_PORT = 8501
_PORTS_TRIED = 100
_PATIENCE = 30.0


class ServingError(SamechangesError):
    """The page cannot be started."""


def script() -> Path:
    """The script that Streamlit runs."""
    return Path(__file__).resolve().parent / "web" / "page.py"


def options(port: int) -> list[str]:
    """What Streamlit is told on its command line."""
    settings = {
        "server.address": ADDRESS,
        "server.port": str(port),
        # Headless keeps Streamlit from asking for an e-mail address on its first start; the browser is opened here.
        "server.headless": "true",
        "server.fileWatcherType": "none",
        "server.runOnSave": "false",
        "browser.gatherUsageStats": "false",
        "browser.serverAddress": ADDRESS,
        "client.toolbarMode": "minimal",
        "client.showErrorDetails": "none",
        "global.developmentMode": "false",
        "logger.hideWelcomeMessage": "true",
        # Sliders and ticks in the colour of the text: the page marks nothing by colour.
        "theme.light.primaryColor": "#31333f",
        "theme.dark.primaryColor": "#fafafa",
    }
    return [f"--{name}={value}" for name, value in settings.items()]


def serve(library_folder: str | None, port: int | None, open_browser: bool) -> int:
    """Serves the page until it is interrupted.

    Args:
        library_folder: The library; None for the one that the environment names, or the demo library.
        port: The port; None for the first free one from 8501 on.
        open_browser: Whether to open the page in the user's browser.

    Returns:
        The exit status.

    Raises:
        ServingError: If the port is taken.
    """
    from streamlit.web import cli

    taken = _free_port() if port is None else _checked(port)
    if library_folder is not None:
        os.environ[VARIABLE] = str(Path(library_folder).expanduser().resolve())
    url = f"http://{ADDRESS}:{taken}"
    print(f"The page is at {url} (Ctrl+C ends it).", file=sys.stderr, flush=True)
    if open_browser:
        threading.Thread(target=_open, args=(url, taken), daemon=True).start()
    try:
        cli.main(["run", str(script()), *options(taken)], standalone_mode=False)
    except KeyboardInterrupt:
        return 0
    return 0


def _free(port: int) -> bool:
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((ADDRESS, port))
        except OSError:
            return False
    return True


def _checked(port: int) -> int:
    if not _free(port):
        raise ServingError(f"port {port} cannot be used on this machine: something else may be listening there")
    return port


def _free_port() -> int:
    for port in range(FIRST_PORT, FIRST_PORT + _PORTS_TRIED):
        if _free(port):
            return port
    raise ServingError(f"none of the ports {FIRST_PORT} to {FIRST_PORT + _PORTS_TRIED - 1} is free")


def _open(url: str, port: int) -> None:
    """Opens the browser once the page answers."""
    import webbrowser

    until = time.monotonic() + _PATIENCE
    while time.monotonic() < until:
        with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
            if probe.connect_ex((ADDRESS, port)) == 0:
                webbrowser.open(url)
                return
        time.sleep(0.1)
