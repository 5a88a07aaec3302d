"""The labels as a sheet to print, each with its QR code.

A code is one stroked path, in less than half the characters of an outline of its modules. A browser lays out the labels that it shows, not thousands
beyond the edge of the screen; in print it lays out all of them.
"""

from __future__ import annotations

from optiselect.handover.cautions import SHORT
from optiselect.handover.clean import clean
from optiselect.handover.codes import QUIET, Drawn, drawn_code
from optiselect.handover.dossier import Dossier
from optiselect.handover.sheet import Sheet
from optiselect.handover.templates import static, template


def labels_page(of: Dossier, labels: Sheet) -> str:
    """The page of all labels, in the order of the labels paper.

    Raises:
        MissingExtraError: when Jinja2 or segno is not installed.
    """
    page = template("labels.html.j2")
    from markupsafe import Markup

    ports = [clean(f"{record['device']}/{record['port']}") for record in labels.records()]
    drawn = [
        (port, *(record[name] for name in ("link", "far_end", "cable", "copies")), *map(Markup, _code(drawn_code(port))))  # ours, without text
        for record, port in zip(labels.records(), ports, strict=True)
    ]
    return page.render(
        title=of.title,
        security="default-src 'none'; style-src 'unsafe-inline'; img-src data:",
        style=Markup(static("labels.css")),
        labels=drawn,
        short=SHORT,
    )


def _code(drawn: Drawn | None) -> tuple[str, str]:
    """The path, and the square that it stands in: its quiet zone, and the half of a module by which a row is above its middle."""
    path, size = drawn or ("", 0)
    whole = size + 2 * QUIET
    return path, f"-{QUIET} -{QUIET + 0.5:g} {whole} {whole}"
