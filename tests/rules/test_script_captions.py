"""WebVTT and SRT from elsewhere. WebVTT: the W3C's parser steps, on files after w3c/webvtt.js's wpt-file-parsing suite (CC0).

The suite was not at hand: its files are rebuilt here from memory, each with the traps that its name tells of; the counts
of cues are those that CHECKS §4 gives for the suite's own. Second reader: webvtt-py.
"""

from __future__ import annotations

import io

import pytest
import webvtt

from archive.rules.script_captions import webvtt_cues
from archive.rules.script_text import decoded
from archive.rules.scripts import read_script

_TIMES = "00:00:00.000 --> 00:00:01.000"
_SETTINGS = (
    "0", "1", "100", "101", "-1", "0%", "1%", "100%", "101%", "-1%", "1.5%", "1.%", ".5%", "1.5", "0.0%", "0,start",
    "0,center", "0,end", "0,middle", "0%", ",", "0,start,end", "auto", "%", "--", "-", "1--", "1-", "--1", "1%1", "%1", "1%%",
    "1e1", "1e1%", "1,1", "0x1", "١", "0%start", "0,START", "0,", ",start", ",", "+1", "0;1", "00", "0%%",
)  # fmt: skip
W3C = {
    "arrows.vtt": (6, f"WEBVTT\n\n-->\n{_TIMES}\ntext0\nfoo-->\n{_TIMES}\ntext1\n-->foo\n{_TIMES}\ntext2\n--->\n{_TIMES}\ntext3\n-->-->\n{_TIMES}\ntext4\n{_TIMES}\n\n-->\n"),
    "ids.vtt": (5, f"WEBVTT\n\n leading space\n{_TIMES}\ntext0\n\ntrailing space \n{_TIMES}\ntext1\n\n-- >\n{_TIMES}\ntext2\n\n->\n{_TIMES}\ntext3\n\n\tx y\n{_TIMES}\ntext4\n"),
    "timings-60.vtt": (2, "WEBVTT\n\n00:00:00.000 --> 00:00:60.000\nx\n\n00:00:00.000 --> 00:60:00.000\nx\n\n00:00.000 --> 60:00.000\nx\n\n00:00:00.000 --> 60:00:00.000\ntext0\n\n60:00:00.000 --> 60:00:01.000\ntext1\n"),
    "timings-negative.vtt": (
        4, "WEBVTT\n\n-00:00.000 --> 00:01.000\nx\n\n00:00.000 --> -00:01.000\nx\n\n00:00:-1.000 --> 00:00:01.000\nx\n\n00:00:01.000 --> 00:00:00.000\ntext0\n\n"
        "00:00:01.000 --> 00:00:00.999\ntext1\n\n00:01:00.000 --> 00:00:59.999\ntext2\n\n01:00:00.000 --> 00:59:59.999\ntext3\n",
    ),
    "newlines.vtt": (4, f"WEBVTT\r\n\r\n1\r\n{_TIMES}\r\ntext0\r\n\r\n2\r{_TIMES}\rtext1\r\r3\n{_TIMES}\ntext2\n\n\n\n4\r\n{_TIMES}\ntext3"),
    "settings-line.vtt": (46, "WEBVTT\n\n" + "\n\n".join(f"{_TIMES} line:{value}\ntext" for value in _SETTINGS)),
    "timings-garbage.vtt": (0, "WEBVTT\n\nx00:00:00.000 --> 00:00:01.000\nx\n\n00:00:00.000x --> 00:00:01.000\nx\n\n00:00:00.000 -->x00:00:01.000\nx\n\n00.00:00.000 --> 00:00:01.000\nx\n\n00:00:00,000 --> 00:00:01,000\nx\n\n0:0:0.0 --> 00:00:01.000\nx\n"),
    "signature-timings.vtt": (0, f"WEBVTT {_TIMES}\ntext\n"),
}  # fmt: skip


@pytest.mark.parametrize("name", sorted(W3C))
def test_as_many_cues_as_the_w3c_counts(name: str) -> None:
    count, text = W3C[name]
    assert len(webvtt_cues(decoded(text.encode())[0])) == count


def test_arrows_end_a_cue_and_text_stands_with_its_own() -> None:
    found = webvtt_cues(W3C["arrows.vtt"][1])
    assert [c.text for c in found] == ["text0", "text1", "text2", "text3", "text4", ""]


@pytest.mark.parametrize("signature", ["WEBVTTx\n\n", "webvtt\n\n", " WEBVTT\n\n", "WEBVT\n\n", "\n\nWEBVTT\n\n"])
def test_without_its_signature_it_is_no_webvtt(signature: str) -> None:
    """WebVTT §6.1, steps 3 to 5."""
    assert webvtt_cues(f"{signature}{_TIMES}\ntext\n") == []


def test_notes_styles_and_regions_are_no_speech() -> None:
    text = (
        "\ufeffWEBVTT - ours\nKind: captions\n\nNOTE Ada said:\nnothing\n\nSTYLE\n::cue { color: red }\n\nREGION\nid:fred\nwidth:40%\n\n"
        "1\n00:01.000 --> 00:03.000 region:fred align:left\n<v.loud.far Ada Marl>We <i.x>crossed</i> &amp; <c>sang</c></v>\n<v Bob>yes\n\n"
        "00:03.000 --> 00:06.000\n<v Ada Marl>and <00:00:04.500>then <00:00:05.000>home\n"
    )
    script = read_script(text.encode())
    said = [(line.speaker, line.words, line.start_ms, line.end_ms) for line in script.lines]
    assert said == [
        ("Ada Marl", ("We", "crossed", "&", "sang"), 1000, None),
        ("Bob", ("yes",), None, 3000),
        ("Ada Marl", ("and",), 3000, 4500),
        ("Ada Marl", ("then",), 4500, 5000),
        ("Ada Marl", ("home",), 5000, 6000),
    ]


def test_the_same_cues_as_webvtt_py_where_that_reads_them() -> None:
    """Outside reader: webvtt-py, on a file without traps."""
    text = "WEBVTT\n\n" + "\n\n".join(f"{n}\n00:0{n}.000 --> 00:0{n}.900 line:0\nWe crossed {n} times\nin the rain" for n in range(9))
    theirs = webvtt.from_buffer(io.StringIO(text))
    assert [(c.start_in_seconds * 1000, c.text) for c in theirs] == [(c.start_ms, c.text) for c in webvtt_cues(text)]


def test_srt_as_people_leave_it() -> None:
    """Numbers that are missing or wrong, blank lines inside, styles, commas and full stops (no standard: common practice, no source)."""
    text = (
        "\ufeff1\r\n00:00:01,000 --> 00:00:02,500\r\n<i>ADA: We crossed</i>\r\nat six.\r\n\r\n"
        "00:00:03.000-->00:00:04.000 X1:40\r\n{\\an8}Nobody\r\n\r\nsaid 12\r\n\r\n7\r\n01:02:03,004 --> 01:02:04,5\r\nBOB: Yes.\r\n"
    )
    said = [(line.speaker, " ".join(line.words), line.start_ms, line.end_ms) for line in read_script(text.encode()).lines]
    assert said == [
        ("ADA", "We crossed at six.", 1000, 2500), ("ADA", "Nobody said 12", 3000, 4000), ("BOB", "Yes.", 3_723_004, 3_724_500),
    ]  # fmt: skip
