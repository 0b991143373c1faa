"""Signs that look alike, brought to one form before anything is read, each replaced by just one other."""

_PLAIN = str.maketrans(
    {
        "♭": "b",
        "♯": "#",
        "∆": "Δ",
        "△": "Δ",
        "º": "°",
        "Ø": "ø",
        "⌀": "ø",
        "∅": "ø",
        "−": "-",
        "‐": "-",
        "‑": "-",
        "∕": "/",
        "⁄": "/",
        "\u00a0": " ",
        "\u202f": " ",
    }
)

_LONG_DASHES = str.maketrans("–—", "--")


def plain(text: str) -> str:
    """The text with flats, sharps, triangles, circles and hyphens in their plain form, character for character.

    >>> plain("B♭△7")
    'BbΔ7'
    """
    return text.translate(_PLAIN)


def hyphened(text: str) -> str:
    """The text in plain signs, long dashes as hyphens: for a symbol by itself, where no dash separates.

    >>> hyphened("C–7♭5")
    'C-7b5'
    """
    return plain(text).translate(_LONG_DASHES)
