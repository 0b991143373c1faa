"""Answers about named progressions, as text for a terminal and as JSON (a stable contract, described in the README)."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from ui.text_answers import place_words, plural

if TYPE_CHECKING:
    from corpus.catalogue import Catalogue, Progression
    from search.discovery import Discovery
    from search.progressions import NamedPlace, Use

_MOST_KEYS = 6
_LONGEST_WORDS = 40
_MOST_TITLES = 3
_MOST_WITHIN = 2


def uses_json(uses: Iterable[Use]) -> dict[str, Any]:
    """What ``progressions --json`` prints."""
    return {
        "progressions": [
            {
                "name": use.entry.name,
                "pattern": use.entry.written,
                "strength": use.entry.strength.value,
                "source": use.entry.source,
                "charts": use.charts,
                "matches": use.matches,
            }
            for use in uses
        ]
    }


def found_json(title: str, path: str, places: Iterable[NamedPlace]) -> dict[str, Any]:
    """What ``progressions --of CHART --json`` prints."""
    return {
        "title": title,
        "path": path,
        "found": [
            {
                "name": each.entry.name,
                "section": each.place.section,
                "from_bar": each.place.from_bar,
                "to_bar": each.place.to_bar,
                "times": each.place.times,
            }
            for each in places
        ],
    }


def discovered_json(discovery: Discovery, limit: int) -> dict[str, Any]:
    """What ``progressions --discover --json`` prints."""
    return {
        "charts": discovery.charts,
        "drawn": discovery.drawn,
        "discovered": [
            {
                "numbers": list(each.numbers),
                "charts": each.charts,
                "matches": each.matches,
                "surprise": round(each.surprise, 3),
            }
            for each in discovery.found[: limit or None]
        ],
    }


def most_used(uses: Iterable[Use]) -> list[Use]:
    """The progressions, those of the most tunes first."""
    return sorted(uses, key=lambda use: (-use.charts, -use.matches))


def uses_text(uses: Sequence[Use], limit: int) -> str:
    """The catalogue with how many tunes use each progression, and in which keys."""
    used = [use for use in uses if use.charts]
    if not used:
        return "No tune has any of them."
    unused = [use.entry.name for use in uses if not use.charts]
    shown = used[: limit or len(used)]
    rows = [("tunes", "times", "progression", "chords", "keys")]
    rows += [
        (f"{use.charts:,}", f"{use.matches:,}", use.entry.name, shortened(use.entry.written), keys_text(use))
        for use in shown
    ]
    lines = columns(rows, right=2)
    if len(shown) < len(used):
        lines.append(f"… and {plural(len(used) - len(shown), 'progression')} more (--limit 0 shows all)")
    if unused:
        lines += ["", f"In no tune: {', '.join(unused)}."]
    return "\n".join(lines)


def columns(rows: Sequence[Sequence[str]], right: int = 0) -> list[str]:
    """Rows of words in columns, the first ``right`` of them set to the right."""
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    return [
        "  ".join(
            word.rjust(width) if at < right else word.ljust(width)
            for at, (word, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]


def shortened(text: str) -> str:
    """A pattern or title that is too long for a column, cut."""
    return text if len(text) <= _LONGEST_WORDS else f"{text[: _LONGEST_WORDS - 1].rstrip()}…"


def keys_text(use: Use) -> str:
    """The keys of the tunes that use a progression: ``C 5, G 3``, the commonest first."""
    said = ", ".join(f"{key} {times}" for key, times in use.keys[:_MOST_KEYS])
    return f"{said}, …" if len(use.keys) > _MOST_KEYS else said


def entry_text(entry: Progression, known: Catalogue) -> str:
    """What the catalogue says about a progression, with its relatives."""
    from search.relations import relatives

    also = f", also {', '.join(entry.also)}" if entry.also else ""
    lines = [f"{entry.name}{also}: {entry.written}"]
    if entry.teaches:
        lines.append(entry.teaches)
    facts = [("at home in", ", ".join(entry.styles)), ("source", "your own" if entry.own else entry.source)]
    lines.append("; ".join(f"{name}: {value}" for name, value in facts if value) + ".")
    lines[-1] = lines[-1][:1].upper() + lines[-1][1:]
    return "\n".join([*lines, *relatives(entry, known).sentences()])


def found_text(title: str, path: str, places: Sequence[NamedPlace]) -> str:
    """The named progressions of one tune and where they stand."""
    lines = [f"{title}   ({path})"]
    if not places:
        lines.append("No progression of the catalogue stands in it.")
        return "\n".join(lines)
    names = len({each.entry.name for each in places})
    lines.append(f"{plural(names, 'progression')}, {plural(len(places), 'place')}.")
    rows = [(place_words(each.place), each.entry.name, within_words(each)) for each in places]
    return "\n".join([*lines, *(f"  {line}" for line in columns(rows))])


def within_words(each: NamedPlace) -> str:
    """What a place is part of, in words; empty where it stands by itself."""
    return f"(within {', '.join(each.within[:_MOST_WITHIN])})" if each.within else ""


def discovered_text(discovery: Discovery, limit: int, named_too: bool = False) -> str:
    """Sequences that the library uses more than chance, with the tunes."""
    note = f"{discovery.note} --draw 0 looks at all of them." if discovery.note else ""
    if not discovery.found:
        nothing = "No sequence stands out." if named_too else "No sequence stands out that the catalogue does not name."
        return f"{nothing}\n{note}".rstrip()
    found = discovery.found[: limit or None]
    hidden = len(discovery.found) - len(found)
    rows = [("tunes", "times", "surprise", "chords", "in")]
    for each in found:
        titles = ", ".join(each.titles[:_MOST_TITLES])
        more = f", … ({len(each.titles) - _MOST_TITLES} more)" if len(each.titles) > _MOST_TITLES else ""
        loop = " (loop)" if each.loop else ""
        numbers = f"{' '.join(each.numbers)}{loop}"
        rows.append((f"{each.charts:,}", f"{each.matches:,}", f"{each.surprise:.1f}", numbers, f"{titles}{more}"))
    lines = columns(rows, right=3)
    if hidden:
        lines.append(f"… and {plural(hidden, 'sequence')} more (--limit 0 shows all)")
    lines += [
        "The surprise, in bits, grows with how many more tunes have a sequence than chance would give it. A loop, "
        "begun at any of its chords, counts where a tune goes round it twice.",
        note,
    ]
    return "\n".join(lines).rstrip()
