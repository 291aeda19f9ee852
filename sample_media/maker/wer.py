"""Word errors of a transcript against a script: numbers, spellings and contractions folded first. No dependency."""

import re

ONES = "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen"
ONES += " eighteen nineteen"
UNITS = {word: n for n, word in enumerate(ONES.split())}
TENS = {
    w: 10 * n for n, w in enumerate(["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"], 2)
}
ORDINALS = {
    w: n
    for n, w in enumerate(["first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth"], 1)
}
_TIES = ["twenties", "thirties", "forties", "fifties", "sixties", "seventies", "eighties", "nineties"]
DECADES = {word: 10 * n for n, word in enumerate(_TIES, 2)}
SAME = {"mister": "mr", "missus": "mrs", "rope walk": "ropewalk", "mid seventies": "mid 70s"}
SPELLINGS = (
    ("isation", "ization"),
    ("colour", "color"),
    ("labour", "labor"),
    ("harbour", "harbor"),
    ("neighbour", "neighbor"),
)


def fold(text: str) -> list[str]:
    """Lower case, no punctuation, "nineteen sixty-eight" and "1968" alike ("68" for two digits), "seventies" as "70s"."""
    text = text.lower().replace("\u2019", "'")
    text = re.sub(r"(\d)(?:st|nd|rd|th)\b", r"\1", text)
    text = re.sub(r"(?<=\d),(?=\d{3})", "", text)
    words = re.findall(r"[a-z0-9']+", re.sub(r"[-\u2013\u2014/]", " ", text))
    words = [w.strip("'") for w in words if w.strip("'")]
    out: list[str] = []
    for word in words:
        for british, american in SPELLINGS:
            word = word.replace(british, american)
        word = SAME.get(word, word)
        if word in DECADES:
            word = f"{DECADES[word]}s"
        elif match := re.fullmatch(r"(?:19)?(\d0)'?s", word):
            word = f"{match.group(1)}s"
        out.append(word)
    return _numbers(out)


def _numbers(words: list[str]) -> list[str]:
    out: list[str] = []
    for word in words:
        value = UNITS.get(word, TENS.get(word, ORDINALS.get(word)))
        if value is None:
            out.append(word)
        elif (
            value < 10
            and out
            and out[-1].startswith("#")
            and int(out[-1][1:]) % 10 == 0
            and int(out[-1][1:]) % 100 >= 20
        ):
            out[-1] = f"#{int(out[-1][1:]) + value}"
        elif value >= 10 and out and out[-1] in ("#19", "#20"):
            out[-1] = f"#{out[-1][1:]}{value}"
        else:
            out.append(f"#{value}")
    return [w.removeprefix("#") for w in out]


def errors(reference: str, heard: str) -> tuple[int, int, list[str]]:
    """Substitutions + deletions + insertions, the number of reference words, and each difference in words."""
    ref, hyp = fold(reference), fold(heard)
    table = [[0] * (len(hyp) + 1) for _ in range(len(ref) + 1)]
    for i in range(len(ref) + 1):
        for j in range(len(hyp) + 1):
            if not i or not j:
                table[i][j] = i + j
            else:
                table[i][j] = min(
                    table[i - 1][j - 1] + (ref[i - 1] != hyp[j - 1]), table[i - 1][j] + 1, table[i][j - 1] + 1
                )
    i, j, same = len(ref), len(hyp), [(len(ref), len(hyp))]
    while i and j:
        if ref[i - 1] == hyp[j - 1] and table[i][j] == table[i - 1][j - 1]:
            i, j = i - 1, j - 1
            same.append((i, j))
        elif table[i][j] == table[i - 1][j - 1] + 1:
            i, j = i - 1, j - 1
        elif table[i][j] == table[i - 1][j] + 1:
            i -= 1
        else:
            j -= 1
    differences = []
    start = (0, 0)
    for a, b in reversed(same):
        if (a, b) != start:
            before = " ".join(ref[max(0, start[0] - 3) : start[0]])
            differences.append(f"...{before} [{' '.join(ref[start[0] : a])}] -> [{' '.join(hyp[start[1] : b])}]")
        start = (a + 1, b + 1)
    return table[len(ref)][len(hyp)], len(ref), differences
