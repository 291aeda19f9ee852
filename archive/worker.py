"""`python -m archive.worker FOLDER`: claims jobs and runs each in a child of its own, which may die.

What waits for an idle machine is done when the machine is idle. With --job and --token it is that child. Exit code 0: the job is closed; 10: the lease was lost, nothing more was written.
"""

from __future__ import annotations

import argparse
import os
import signal
import sys
import time
from pathlib import Path
from types import FrameType

from archive.app import Archive
from archive.errors import Busy, LeaseLost, ToldHereError

IDLE_S = 2.0
LOOK_S = 3600.0  # how often what must not be kept for longer is looked for


def main(arguments: list[str] | None = None) -> int:
    """Run as worker, or as the child of one."""
    parser = argparse.ArgumentParser(prog="python -m archive.worker")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--job", type=int)
    parser.add_argument("--token", default="")
    parser.add_argument("--until-done", action="store_true", help="end when nothing waits any more")
    parser.add_argument("--only", default="", metavar="KIND", help="leave all other kinds of work alone")
    parser.add_argument("--beside", action="store_true", help="end when whoever started it is gone, killed or not")
    given = parser.parse_args(arguments)
    try:
        archive = Archive.open(given.folder)
    except ToldHereError as error:  # something is erased just now, say
        sys.stderr.write(f"{error.message} {error.remedy}\n")
        return error.exit_code
    try:
        if given.job is not None:
            signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C reaches the parent too, which ends this child
            archive.work.run(given.job, given.token, lambda: os._exit(LeaseLost.exit_code))
            return 0
        return _work(archive, given.until_done, os.getppid() if given.beside else None, given.only)
    except LeaseLost as lost:
        return lost.exit_code
    except ToldHereError as error:
        sys.stderr.write(f"{error.message} {error.remedy}\n")
        return error.exit_code
    finally:
        archive.close()


def _work(archive: Archive, until_done: bool, beside: int | None, only: str) -> int:
    def leave(_number: int, _frame: FrameType | None) -> None:
        raise SystemExit(0)  # the child is ended on the way out, and its job goes on later

    signal.signal(signal.SIGTERM, leave)
    looked = -LOOK_S
    while beside is None or os.getppid() == beside:
        try:
            if time.monotonic() - looked >= LOOK_S:
                archive.speaking.forget_old()
                looked = time.monotonic()
            if not only:
                archive.meaning.keep_up()
            if archive.work.once(idle_too=None, kind=only):
                continue
            if until_done:
                return 0
        except Busy:
            pass  # an import or a backup holds the database: asked again below
        time.sleep(IDLE_S)
    return 0


if __name__ == "__main__":
    sys.exit(main())
