"""What our A4 papers share: margins, styles, head and foot."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO
from xml.sax.saxutils import escape

from django.utils.translation import gettext as _
from reportlab.lib.colors import black, white
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Paragraph, SimpleDocTemplate, Table, TableStyle

from intake.papers.letters import PLAIN, STRONG, prepare, printable
from intake.papers.squares import draw_code

MARGIN = 16 * mm
TITLE = ParagraphStyle("title", fontName=STRONG, fontSize=18, leading=22, spaceAfter=4)
HEAD = ParagraphStyle("head", fontName=STRONG, fontSize=11.5, leading=15, spaceBefore=9, spaceAfter=3)
TEXT = ParagraphStyle("text", fontName=PLAIN, fontSize=9.5, leading=12.5)
LARGE = ParagraphStyle("large", fontName=PLAIN, fontSize=12.5, leading=16.5)
STEP = ParagraphStyle("step", fontName=STRONG, fontSize=14, leading=18)
SMALL = ParagraphStyle("small", fontName=PLAIN, fontSize=8, leading=10)
#: A table whose left edge is that of the text around it.
FLUSH = (("LEFTPADDING", (0, 0), (0, -1), 0), ("VALIGN", (0, 0), (-1, -1), "TOP"))
BOXED = ParagraphStyle(
    "boxed", parent=TEXT, borderColor=black, borderWidth=1.2, borderPadding=6, spaceBefore=10, spaceAfter=10
)


def words(text: object, style: ParagraphStyle = TEXT) -> Paragraph:
    """``text`` as a paragraph; nothing in it is taken for markup."""
    return Paragraph(escape(printable(str(text))), style)


def strong(text: object, style: ParagraphStyle = TEXT) -> Paragraph:
    return Paragraph(f"<b>{escape(printable(str(text)))}</b>", style)


def ruled(rows: Sequence[Sequence[object]], widths: Sequence[float], *, heads: int = 1) -> Table:
    """A table with thin rules whose head stands again on every page."""
    table = Table(rows, colWidths=widths, repeatRows=heads)
    table.setStyle(
        TableStyle(
            [
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("LINEBELOW", (0, 0), (-1, -1), 0.3, black),
                ("LINEABOVE", (0, 0), (-1, 0), 1.2, black),
                *([("LINEBELOW", (0, heads - 1), (-1, heads - 1), 0.8, black)] if heads else []),
                ("BACKGROUND", (0, 0), (-1, -1), white),
                ("LEFTPADDING", (0, 0), (-1, -1), 2),
                ("RIGHTPADDING", (0, 0), (-1, -1), 4),
                ("TOPPADDING", (0, 0), (-1, -1), 2.5),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
            ]
        )
    )
    return table


def document(title: str, foot: str, story: Sequence[Flowable]) -> bytes:
    """The pages of ``story`` as PDF; ``foot`` and the page number stand at the bottom of each."""
    prepare()
    file = BytesIO()

    def draw_foot(canvas: Canvas, page: SimpleDocTemplate) -> None:
        canvas.setFont(PLAIN, 8)
        canvas.drawString(MARGIN, 9 * mm, printable(foot))
        canvas.drawRightString(A4[0] - MARGIN, 9 * mm, _("page %(page)s") % {"page": page.page})

    page = SimpleDocTemplate(
        file,
        pagesize=A4,
        leftMargin=MARGIN,
        rightMargin=MARGIN,
        topMargin=MARGIN,
        bottomMargin=MARGIN,
        title=printable(title),
        invariant=True,
    )
    page.build(list(story), onFirstPage=draw_foot, onLaterPages=draw_foot)
    return file.getvalue()


class Code(Flowable):
    """A QR code in the flow of a page."""

    def __init__(self, text: str, side: float) -> None:
        super().__init__()
        self.text, self.width, self.height = text, side, side

    def draw(self) -> None:

        draw_code(self.canv, self.text, 0, 0, self.width)
