"""An app on a real waitress, as `toldhere serve` runs it, for as long as a test needs it."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from flask import Flask
from waitress import wasyncore

from webui.serve import listen


@contextmanager
def serving(app: Flask) -> Iterator[int]:
    """Serve `app` on a free port of this machine; gives the port."""
    server: Any
    server, port = listen(app, "127.0.0.1", 0)
    over = threading.Event()

    def loop() -> None:
        while not over.is_set():
            wasyncore.loop(timeout=0.1, map=server._map, count=1)
        for channel in list(server.active_channels.values()):
            channel.handle_close()  # lets threads go that wait for a client to read
        server.task_dispatcher.shutdown(timeout=5)
        wasyncore.close_all(server._map, ignore_all=True)

    thread = threading.Thread(target=loop, daemon=True)
    thread.start()
    try:
        yield port
    finally:
        over.set()
        server.pull_trigger()
        thread.join(10)
