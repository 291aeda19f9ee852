"""What `--json` prints and what quotes.json holds."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

import pytest

from archive.domain.cleared import (
    GATE_TOKEN,
    ClearedExport,
    ForbiddenName,
    ShownFound,
    ShownHit,
    ShownRecording,
    ShownSnippet,
    ShownUtterance,
    ShownWord,
)
from archive.domain.values import Role, Word
from archive.errors import Broken
from archive.render.jsonout import as_json, plain, quotes_json


def test_quotes_for_outside_eyes_hold_nothing_of_the_inside(make_export: Callable[..., ClearedExport]) -> None:
    export = make_export(drafts=(2,))
    data = quotes_json(export)
    sheet = json.loads(data)
    assert data.endswith(b"\n") and "Dziękuję".encode() in data  # letters as they are
    assert sheet["made_on"] == "2025-06-12" and sheet["draft"] is True
    assert [q["draft"] for q in sheet["quotes"]] == [False, True, False, False]
    assert sheet["quotes"][1]["words"] == export.quotes[1].words
    for inside in ("X-0007", "E-0001", "R-0003", "agreement", "token", "forbidden", "Marsh", "ab" * 32):
        assert inside not in data.decode("utf-8")


def test_export_as_json_never_tells_the_hidden_names(make_export: Callable[..., ClearedExport]) -> None:
    read = json.loads(as_json(make_export()))
    assert read["code"] == "X-0007" and read["insides"][0]["recheck_on"] == "2030-05-04"
    assert "forbidden" not in read and "token" not in as_json(make_export()) and "Lena" not in as_json(make_export())


def test_shown_values_as_json() -> None:
    word = ShownWord(token=GATE_TOKEN, text="říkala", start_ms=0, end_ms=300)
    utterance = ShownUtterance(
        token=GATE_TOKEN, utterance_id=1, speaker="Dot", speaker_code="N-09", start_ms=0, end_ms=300, words=(word,)
    )
    recording = ShownRecording(
        token=GATE_TOKEN,
        code="R-0001",
        title="Ferry",
        duration_ms=300,
        version=1,
        utterances=(utterance,),
        playable=(),
        peaks=bytes([256 - 128, 127, 0, 0]),
        peak_ms=50,
    )
    read = json.loads(as_json(recording))
    assert read["peaks"] == [-128, 127, 0, 0]
    assert read["utterances"][0]["words"][0]["text"] == "říkala"
    snippet = ShownSnippet(token=GATE_TOKEN, parts=(("the ", False), ("chain", True)))
    hit = ShownHit(
        token=GATE_TOKEN,
        unit_id=1,
        recording="R-0001",
        title="Ferry",
        interview="V-0001",
        start_ms=0,
        end_ms=300,
        speakers=("Dot",),
        snippet=snippet,
        tags=(),
        playable=True,
    )
    found = json.loads(as_json(ShownFound(token=GATE_TOKEN, hits=(hit,), total=1, facets={"place": (("Tarnwick", 1),)})))
    assert found["facets"] == {"place": [["Tarnwick", 1]]} and found["hits"][0]["snippet"]["parts"][1] == ["chain", True]


def test_small_rows_of_services_have_a_form_too() -> None:
    @dataclass(frozen=True)
    class Row:
        code: str
        role: Role
        on: date

    assert plain([Row("N-01", Role.KEEPER, date(2025, 5, 3))]) == [{"code": "N-01", "role": "keeper", "on": "2025-05-03"}]
    assert json.loads(as_json("bad \x00\ud800 letters")) == "bad  letters"


@pytest.mark.parametrize("raw", [Word("chain", 0, 300), [ForbiddenName("Lena Marsh")], {"a": Word("b", 0, 20)}, object()])
def test_raw_words_and_hidden_names_are_refused(raw: object) -> None:
    with pytest.raises(Broken):
        as_json(raw)
