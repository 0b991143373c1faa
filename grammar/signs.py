"""Signs that look alike, brought to one form before anything is read. Every replacement keeps the length of the text."""

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


def plain(text: str) -> str:
    """The text with flats, sharps, triangles, circles and hyphens in their plain form, character for character.

    >>> plain("B♭△7")
    'BbΔ7'
    """
    return text.translate(_PLAIN)
