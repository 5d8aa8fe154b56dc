"""A picture as a file of its own: an SVG, or a page with sentence, drawing and table, that needs nothing beside it."""

import re
from xml.sax.saxutils import escape

from qc.charts.drawing import palette, svg
from qc.charts.drawing.as_svg import key_mark
from qc.charts.drawing.picture import Picture
from qc.charts.drawing.scene import Key
from qc.charts.drawing.table import Table

_PAGE_STYLE = f"""
body {{ font: 1rem/1.5 system-ui, "Liberation Sans", Arial, sans-serif; color: {palette.INK};
  background: {palette.SHEET}; max-width: 60rem; margin: 1.5rem auto; padding: 0 1rem; }}
h1 {{ overflow-wrap: anywhere; }}
.wide {{ overflow-x: auto; }}
svg.figure {{ width: 100%; max-width: 40rem; height: auto; }}
ul.key {{ list-style: none; padding: 0; display: flex; flex-wrap: wrap; gap: .25rem 1rem; }}
ul.key svg {{ width: 2.25rem; height: 1rem; vertical-align: -.1em; }}
table {{ border-collapse: collapse; margin-top: 1rem; font-variant-numeric: tabular-nums; }}
caption {{ text-align: left; color: {palette.QUIET}; }}
th, td {{ padding: .25rem .75rem; border-bottom: 1px solid {palette.HAIR}; text-align: right; }}
th[scope=row], .words {{ text-align: left; }}
thead th {{ border-bottom: 2px solid {palette.INK}; }}
tr[data-state=signal] th {{ border-left: .375rem solid {palette.MARK_SIGNAL}; }}
tr[data-state=low] th {{ border-left: .375rem double {palette.MARK}; }}
"""


def drawing_file(picture: Picture, style: str) -> str:
    """Return the drawing as an SVG file; style: the served pages' variables and rules for drawings, as text."""
    opened, rest = picture.svg.split(">", 1)
    ground = svg.element("rect", {"width": "100%", "height": "100%", "fill": palette.SHEET})
    sized = f'{opened} width="1080">'
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{sized}<style>{_coloured(style)}</style>{ground}{rest}\n'


def page_file(picture: Picture, style: str) -> str:
    """Return a page (HTML) with the title, what it shows, cautions, the drawing with its key, and the table."""
    paragraphs = [picture.says, *picture.cautions]
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width">'
        f"<title>{escape(picture.title)}</title><style>{_coloured(style)}{_PAGE_STYLE}</style></head>\n<body>"
        f"<h1>{escape(picture.title)}</h1>{''.join(f'<p>{escape(said)}</p>' for said in paragraphs)}\n"
        f'{picture.svg}\n<ul class="key">{"".join(map(_key, picture.keys))}</ul>\n'
        f"{_table(picture.table)}</body></html>\n"
    )


def _coloured(style: str) -> str:
    """Return the rules for drawings with their variables written out: few programs but browsers know these."""
    rules = re.findall(r"^svg[^{]*\{[^}]*\}", style, re.MULTILINE)
    said = reversed(re.findall(r"(--[\w-]+):\s*([^;]*);", style))  # the first counts: other themes say it again
    known = {name: value.replace('"', "'") for name, value in said}
    return "\n".join(re.sub(r"var\((--[\w-]+)\)", lambda used: known[used[1]], rule) for rule in rules)


def _key(key: Key) -> str:
    return f"<li>{key_mark(key.mark)} {escape(key.word)}</li>"


def _table(table: Table) -> str:
    heads = "".join(f'<th scope="col"{_class(column.numeric)}>{escape(column.head)}</th>' for column in table.columns)
    rows = "\n".join(
        f'<tr{_state(row.state)}><th scope="row">{escape(row.head)}</th>'
        + "".join(
            f"<td{_class(column.numeric)}>{escape(cell)}</td>"
            for column, cell in zip(table.columns[1:], row.cells, strict=True)
        )
        + "</tr>"
        for row in table.rows
    )
    caption = f"<caption>{escape(table.caption)}</caption>"
    return f'<div class="wide"><table>{caption}<thead><tr>{heads}</tr></thead>\n<tbody>{rows}</tbody></table></div>'


def _class(numeric: bool) -> str:
    return "" if numeric else ' class="words"'


def _state(state: str) -> str:
    return f' data-state="{state}"' if state else ""
