"""Small libraries for tests of the page."""

from __future__ import annotations

from pathlib import Path

LONG_TITLE = "The Long and Winding Title of a Tune That Nobody Ever Shortened, Although Everybody Asked Them To"
SCRIPT_TITLE = '<script>alert("changes")</script> & Sons'

CHARTS = {
    "loop.txt": "title: Loop\nkey: D\nstyle: pop\nlevel: 2\ntags: loops, spring\n\n[Verse]\n|: D | A | Bm | Em :|\n",
    "minor.txt": "title: Minor Loop\nkey: Am\ntime: 3/4\nlevel: 4\n\n| Am | F | C | G |\n| Dm7 | G7 | Cmaj7 | E7 |\n",
    "unsaid.txt": "title: Unsaid Key\n\n| Am | F | C | G |\n| Am | F | G | Am |\n",
    "script.txt": f"title: {SCRIPT_TITLE}\nkey: C\ntags: <b>bold</b>\n\n[<i>A</i>]\n| C | F | G7 | C |\n",
    "long.txt": f"title: {LONG_TITLE}\nkey: Eb\n\n| Eb | Abm6/Cb | Bb13sus4 Bb7b9 | Eb6/9 |\n",
    "sung.txt": "title: Sung\nkey: G\n\n[Verse]\nG             C\nDown by the river bed\nD7    G\nI lay my head\n",
}
FAULTY = "title: Faulty\nkey: C\n\n| C | Cmaj77 | F | G |\n"


def make_library(folder: Path, faulty: bool = False) -> Path:
    """Writes the charts into a folder, with a faulty one if that is asked."""
    for name, text in CHARTS.items():
        (folder / name).write_text(text, encoding="utf-8")
    if faulty:
        (folder / "faulty.txt").write_text(FAULTY, encoding="utf-8")
    return folder
