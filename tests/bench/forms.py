"""A hundred forms from the archive's whole list of uses: budget 20 s (issue 7), made and put on record one by one."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

from archive.domain.printed import FormKind
from tests import cast


def forms(say: Callable[[str], None], folder: Path) -> None:
    """Both languages, both prints, both papers, the longest kind."""
    archive = cast.build(folder / "forms")
    begun = time.perf_counter()
    pages = 0
    for n in range(100):
        member = cast.CAST[n % len(cast.CAST)]
        made = archive.papers.form(cast.KEEPER, member.code, FormKind.RECORDING, language=("en", "pl")[n % 2], size=("a4", "letter")[n // 2 % 2], large=bool(n // 4 % 2))
        pages += made.data.count(b"/Type /Page\n")
    took = time.perf_counter() - begun
    say(f"forms: 100 in {took:.1f} s ({pages} pages); budget 20 s")
    archive.close()
