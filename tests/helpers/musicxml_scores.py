"""Small MusicXML scores for tests, put together from pieces of text."""

from __future__ import annotations

import io
import zipfile

from grammar.chart_text import write_chart
from grammar.charts import read_chart
from grammar.musicxml_reading import read_musicxml
from shared.foreign import ForeignTune

FOUR = "<attributes><divisions>2</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>"
CONTAINER = "META-INF/container.xml"


def note(duration: float, divisions: int = 2, more: str = "") -> str:
    """A note of so many quarters."""
    length = f"<duration>{round(duration * divisions)}</duration>"
    return f"<note><pitch><step>C</step><octave>4</octave></pitch>{length}{more}</note>"


def harmony(root: str, kind: str = "major", more: str = "", text: str | None = None, offset: str = "") -> str:
    """A chord symbol on a root such as ``Bb``."""
    alter = root.count("#") - root.count("b")
    written = f"<root-alter>{alter}</root-alter>" if alter else ""
    said = "" if text is None else f' text="{text}"'
    after = f"<offset>{offset}</offset>" if offset else ""
    step = f"<root><root-step>{root[0]}</root-step>{written}</root>"
    return f"<harmony>{step}<kind{said}>{kind}</kind>{more}{after}</harmony>"


def degree(value: int, alter: int, kind: str) -> str:
    """A ``degree`` element."""
    inner = f"<degree-value>{value}</degree-value><degree-alter>{alter}</degree-alter><degree-type>{kind}</degree-type>"
    return f"<degree>{inner}</degree>"


def bass(step: str) -> str:
    """A ``bass`` element."""
    alter = step.count("#") - step.count("b")
    written = f"<bass-alter>{alter}</bass-alter>" if alter else ""
    return f"<bass><bass-step>{step[0]}</bass-step>{written}</bass>"


def key(fifths: int, mode: str = "") -> str:
    """A key signature."""
    said = f"<mode>{mode}</mode>" if mode else ""
    return f"<attributes><key><fifths>{fifths}</fifths>{said}</key></attributes>"


def time(beats: str, unit: str) -> str:
    """A time signature."""
    return f"<attributes><time><beats>{beats}</beats><beat-type>{unit}</beat-type></time></attributes>"


def words(text: str) -> str:
    """A direction in words."""
    return f"<direction><direction-type><words>{text}</words></direction-type></direction>"


def rehearsal(text: str) -> str:
    """A rehearsal mark."""
    return f"<direction><direction-type><rehearsal>{text}</rehearsal></direction-type></direction>"


def sign(name: str) -> str:
    """A direction that is a sign."""
    return f"<direction><direction-type><{name}/></direction-type></direction>"


def sound(**attributes: str) -> str:
    """A direction that only sounds."""
    said = " ".join(f'{name}="{value}"' for name, value in attributes.items())
    return f"<direction><direction-type><words/></direction-type><sound {said}/></direction>"


def left(inner: str) -> str:
    """A left bar line."""
    return f'<barline location="left">{inner}</barline>'


def right(inner: str) -> str:
    """A right bar line."""
    return f'<barline location="right">{inner}</barline>'


FORWARD = '<repeat direction="forward"/>'
BACKWARD = '<repeat direction="backward"/>'


def starts(numbers: str) -> str:
    """The start of an ending."""
    return f'<ending number="{numbers}" type="start"/>'


def stops(numbers: str) -> str:
    """The stop of an ending."""
    return f'<ending number="{numbers}" type="stop"/>'


def part(measures: tuple[str, ...], name: str = "P1") -> str:
    """A part of measures, given by what stands in them; one that starts with ``<measure`` is taken as it is."""
    made = [
        m if m.startswith("<measure") else f'<measure number="{i}">{m}</measure>' for i, m in enumerate(measures, 1)
    ]
    return f'<part id="{name}">' + "\n".join(made) + "</part>"


def score(*measures: str, head: str = "", parts: str = "") -> bytes:
    """A score of one part (and others behind it)."""
    doctype = (
        '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" "http://x.org/partwise.dtd">'
    )
    listed = '<part-list><score-part id="P1"><part-name>P</part-name></score-part></part-list>'
    body = f'<score-partwise version="4.0">{head}{listed}{part(measures)}{parts}</score-partwise>'
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{doctype}\n{body}'.encode()


def read(*measures: str, head: str = "", parts: str = "") -> ForeignTune:
    """The tune of a score."""
    (tune,) = read_musicxml(score(*measures, head=head, parts=parts))
    return tune


def written(*measures: str, head: str = "", parts: str = "") -> str:
    """The chart of a score as we write it, without its headers; our own reader gives the same chart of it."""
    return written_of(read(*measures, head=head, parts=parts))


def written_of(tune: ForeignTune) -> str:
    """The chart of a tune as we write it, without its headers."""
    assert tune.chart is not None, tune.faults
    text = write_chart(tune.chart)
    assert read_chart(text).chart == tune.chart
    return text.partition("\n\n")[2]


def archive(*entries: tuple[str, bytes], rootfile: str | None = "score.xml") -> bytes:
    """A compressed score of these files, and a container that names one of them."""
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as packed:
        if rootfile is not None:
            said = f'<rootfiles><rootfile full-path="{rootfile}"/></rootfiles>'
            packed.writestr(CONTAINER, f"<container>{said}</container>")
        for name, content in entries:
            packed.writestr(name, content)
    return file.getvalue()
