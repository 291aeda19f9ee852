"""`toldhere serve`: the pages of one archive on this machine, and the worker beside them."""

from __future__ import annotations

import gc
import signal
import subprocess
import sys
import threading
import webbrowser
from pathlib import Path
from types import FrameType, TracebackType

import click
from flask import Flask
from waitress.server import create_server

from archive.app import Archive
from archive.errors import BadInput
from webui.app import create_app

THREADS = 8
MOST_BODY_BYTES = 64 * 1024 * 1024  # of any request, before it is looked at; each page has a smaller limit of its own
TAKEN_BYTES = 9 * 1024 * 1024  # a piece of a file on its way stays in memory as well
READ_BYTES = 256 * 1024
KEPT_BYTES = 8 * 1024 * 1024  # an answer waiting for its reader stays in memory: no sound in temporary files
RESTART_AFTER_S = 5.0
LOCAL = ("127.0.0.1", "localhost", "::1")
PLAIN = (
    "Careful: this is plain http. Whoever is in the same network can read along, passwords too. "
    "Use it only in a network that is yours alone, and never on the open internet."
)


class Worker:
    """`python -m archive.worker FOLDER` as a child for as long as the pages are served; begun again should it die."""

    def __init__(self, folder: Path, *options: str) -> None:
        self._command = [sys.executable, "-m", "archive.worker", str(folder), "--beside", *options]
        self._over = threading.Event()
        self._child: subprocess.Popen[bytes] | None = None
        self._watch = threading.Thread(target=self._keep, name="worker watch", daemon=True)

    def __enter__(self) -> Worker:
        self._child = subprocess.Popen(self._command)
        self._watch.start()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, where: TracebackType | None) -> None:
        self._over.set()
        self._watch.join()
        child = self._child
        if child is not None and child.poll() is None:
            child.terminate()
            try:
                child.wait(10)
            except subprocess.TimeoutExpired:
                child.kill()  # its work is committed chunk by chunk: nothing is lost
                child.wait()

    def _keep(self) -> None:
        while not self._over.wait(RESTART_AFTER_S):
            if self._child is not None and self._child.poll() is not None:
                self._child = subprocess.Popen(self._command)


def _stop(number: int, frame: FrameType | None) -> None:
    raise SystemExit(0)


def listen(app: Flask, host: str, port: int) -> tuple[object, int]:
    """A waitress server that holds the port already (0: any free one), and its port. Raises BadInput where it is taken."""
    try:
        server = create_server(
            app, host=host, port=port, threads=THREADS, ident=None, outbuf_overflow=KEPT_BYTES, inbuf_overflow=TAKEN_BYTES,
            max_request_body_size=MOST_BODY_BYTES, recv_bytes=READ_BYTES,
        )  # fmt: skip
    except OSError as error:
        raise BadInput(
            f"The pages cannot be served on port {port}.", "Another program may use it: name one with --port, 0 for any."
        ) from error
    return server, int(server.effective_port)


@click.command()
@click.option("--archive", "folder", type=click.Path(path_type=Path), help="The archive folder.")
@click.option("--port", type=click.IntRange(0, 65535), default=None, help="Port to serve on; 0 for any free one.")
@click.option("--no-browser", is_flag=True, help="Print the link only; open no browser.")
@click.pass_context
def serve(ctx: click.Context, folder: Path | None, port: int | None, no_browser: bool) -> None:
    """Serve the web pages of an archive on our own computer, and do its waiting work."""
    chosen = folder if folder is not None else Path(getattr(ctx.obj, "folder", "."))  # `toldhere --archive` before the command counts too
    archive = Archive.open(chosen)
    host = archive.settings.host
    server, taken = listen(create_app(archive), host, archive.settings.port if port is None else port)
    link = f"http://{host}:{taken}/enter/{archive.accounts.once_link()}"
    click.echo(f"{archive.settings.name} is open. This link signs one person in as keeper, once:\n  {link}\nCtrl+C ends it.")
    for words in archive.second_place.warnings():
        click.echo(f"Careful: {words}")
    if host not in LOCAL:
        click.echo(f"Others in this network reach it as http://{host}:{taken}\n{PLAIN}")
    signal.signal(signal.SIGTERM, _stop)
    gc.freeze()  # what stays for good is not looked through again: a pause of 50 ms in the middle of an answer
    with Worker(archive.folder), Worker(archive.folder, "--only", "export"):  # whoever exports does not wait for hours of transcribing
        if not no_browser:
            webbrowser.open(link)
        server.run()  # type: ignore[attr-defined]
    click.echo("Closed.")
