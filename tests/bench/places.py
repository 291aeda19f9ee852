"""How many passages a second the rules of places read, with a gazetteer of 5,000 places (DESIGN §11: 2,000 passages/s for all rules)."""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Sequence

from archive.domain.values import Word
from archive.rules.place_sounds import PlaceSounds
from archive.rules.places import Gazetteer, Place, find_places, suggest_places
from archive.rules.spoken import tokens

KINDS = ("Row", "Street", "Steps", "Yard", "Quay", "Lane", "Wharf", "Hill", "Square", "Bridge", "Mill", "End")
BEGIN = ("bal", "cor", "dun", "fel", "gar", "hal", "kel", "lan", "mor", "nor", "pel", "ren", "sal", "tar", "ul", "ven", "wil", "yar", "zan", "bre", "cro", "dre", "fro", "gri", "sto", "tre")
END = ("wick", "ford", "ton", "ley", "mere", "by", "ham", "stow", "den", "well", "worth", "gate", "thorpe")
COMMON = ("we", "went", "down", "there", "and", "she", "said", "that", "it", "was", "the", "best", "of", "them", "all", "because", "nobody", "came", "in", "those", "days", "with", "a", "cart", "or", "a", "boat")


def made_up(number: int, seed: int = 5) -> list[Place]:
    """So many invented places in three levels, some with other names, names of their time and mis-hearings."""
    rng = random.Random(seed)
    names = list(dict.fromkeys(rng.choice(BEGIN).title() + rng.choice(BEGIN) + rng.choice(END) for _ in range(number)))
    towns = names[: number // 50]
    listed = [Place(t, "town") for t in towns]
    seen = set(towns)
    while len(listed) < number:
        name = f"{rng.choice(names)} {rng.choice(KINDS)}"
        if name in seen:
            continue
        seen.add(name)
        town = rng.choice(towns)
        kind = name.split()[1]
        also = (f"the {kind}",) if rng.random() < 0.02 else (f"Old {name}",) if rng.random() < 0.3 else ()
        then = ((town, "../1974"), (rng.choice(towns), "1974/..")) if rng.random() < 0.1 else ()
        listed.append(Place(name, kind.lower(), "" if then else town, also, (name.replace(" ", ""),), within_then=then))
    return listed


def passages(places: Sequence[Place], number: int, length: int = 120, seed: int = 7) -> list[list[Word]]:
    """So many passages of so many words; about one word in forty begins a place's name, one in three hundred a name of nothing."""
    rng = random.Random(seed)
    found = []
    for _ in range(number):
        said: list[str] = []
        while len(said) < length:
            dice = rng.random()
            if dice < 1 / 40:
                said += rng.choice(places).name.split()
            elif dice < 1 / 40 + 1 / 300:
                said.append(rng.choice(BEGIN).title() + rng.choice(END))
            else:
                said.append(rng.choice(COMMON) + (rng.choice(".,") if rng.random() < 0.1 else ""))
        found.append([Word(t, n * 300, n * 300 + 250) for n, t in enumerate(said)])
    return found


def places(say: Callable[[str], None], number: int = 5000, read: int = 4000) -> None:
    """Print what it costs."""
    listed = made_up(number)
    start = time.perf_counter()
    gazetteer = Gazetteer.of(listed)
    sounds = PlaceSounds(gazetteer)
    say(f"places: a gazetteer of {number} made ready in {1000 * (time.perf_counter() - start):.0f} ms")
    said = passages(listed, read)
    words = len(said[0])
    bare = _seconds(lambda: [tokens(p) for p in said])
    named = _seconds(lambda: [suggest_places(p, gazetteer, ["1960"]) for p in said])

    def both() -> None:
        for passage in said:
            spoken = tokens(passage)
            found = list(find_places(spoken, passage, gazetteer, ["1960"]))
            list(sounds.find(spoken, passage, [(f.first, f.last) for f in found]))

    all_of_it = _seconds(both)
    for what, seconds in (("words parted alone", bare), ("places named", named), ("places named, and what sounds like one", all_of_it)):
        say(f"places: {what}: {read / seconds:,.0f} passages of {words} words a second")


def _seconds(work: Callable[[], object]) -> float:
    start = time.process_time()
    work()
    return time.process_time() - start
