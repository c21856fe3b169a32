"""What is looked at in an uploaded file before any of it is parsed.

A workbook is a ZIP archive of XML parts (ECMA-376, part 2). The archive is unpacked once as a
stream, only to be counted, so that nothing it claims about itself has to be believed.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from io import BytesIO
from zipfile import ZIP_DEFLATED, ZIP_STORED, BadZipFile, ZipFile, ZipInfo

from intake.sheets.problems import SheetProblem

MEBIBYTE = 1024 * 1024

#: Largest file, unpacked size and number of parts; ratio and parts after the advice of the OWASP
#: Application Security Verification Standard 5.0, section 5.2, the figures being our choice.
MOST_BYTES = 5 * MEBIBYTE
MOST_UNPACKED = 50 * MEBIBYTE
MOST_PARTS = 200
MOST_RATIO = 100
#: A part smaller than this may shrink as well as it likes.
RATIO_FROM = MEBIBYTE
#: Most tags in all parts; a full sheet of 5,000 rows has 1.3 million. It bounds time and memory.
MOST_TAGS = 2_000_000
#: Most entries in the table of texts, which openpyxl takes long over; a full sheet has 205,000 cells.
MOST_STRINGS = 300_000
#: Longest text between two tags, in bytes. Spreadsheet programs stop at 32,767 characters a cell.
LONGEST_TEXT = 4 * 65_536

CHUNK = 65_536

SAVE_AS = "Open it in your spreadsheet program and save it as an Excel workbook (.xlsx)."

#: How the files begin that people send by mistake, and what to say.
BEGINNINGS: tuple[tuple[bytes, str], ...] = (
    (b"%PDF", f"This is a PDF, not a workbook. {SAVE_AS}"),
    (b"{\\rtf", f"This is a text document, not a workbook. {SAVE_AS}"),
    (b"\x1f\x8b", "This file is packed with gzip. Unpack it and upload the workbook (.xlsx) inside."),
    (b"<", f"This is a web page or XML file, not a workbook. {SAVE_AS}"),
)
OLD_BINARY = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
ENCRYPTED_MARK = "EncryptedPackage".encode("utf-16-le")

#: Declarations through which XML can grow or reach out; no spreadsheet program writes them.
DECLARATIONS = tuple(
    mark.encode(encoding)
    for mark in ("<!DOCTYPE", "<!ENTITY")
    for encoding in ("ascii", "utf-16-le", "utf-16-be")
)

#: Parts that must not be there: how their names tell, and what to say.
UNWANTED_PARTS: tuple[tuple[str, str], ...] = (
    ("vbaproject", f"This workbook carries macros, which are not accepted. {SAVE_AS}"),
    ("/macrosheets/", f"This workbook carries macros, which are not accepted. {SAVE_AS}"),
    (
        "/externallinks/",
        "This workbook is linked to other workbooks. Paste the linked cells as values and save it again.",
    ),
    (
        "xl/connections",
        "This workbook fetches data from elsewhere. Remove its data connections and save it again.",
    ),
    (
        "/embeddings/",
        "This workbook has other files embedded in it. Remove the embedded objects and save it again.",
    ),
    ("/activex/", "This workbook has active controls in it. Remove them and save it again."),
    ("xl/workbook.bin", f"This is a binary workbook (.xlsb). {SAVE_AS}"),
)

#: Other archives, by a part that tells them.
OTHER_ARCHIVES: tuple[tuple[str, str], ...] = (
    ("word/document.xml", "This is a text document, not a workbook. Upload the workbook (.xlsx)."),
    ("ppt/presentation.xml", "This is a presentation, not a workbook. Upload the workbook (.xlsx)."),
    ("content.xml", f"This is an OpenDocument file. {SAVE_AS}"),
    ("index/document.iwa", f"This file comes from another program. {SAVE_AS}"),
)


def damaged() -> SheetProblem:
    return SheetProblem(f"This file is damaged and cannot be read as a workbook. {SAVE_AS}")


def too_large_inside() -> SheetProblem:
    return SheetProblem(
        f"This file unpacks to far more than a sheet of samples holds (over {MOST_UNPACKED // MEBIBYTE} MB, "
        f"or over {MOST_RATIO} times its size). Copy the samples into a fresh workbook and upload that."
    )


def guard(data: bytes) -> None:
    """Raise ``SheetProblem`` unless ``data`` is a plain workbook of a size that can be read."""
    if not data:
        raise SheetProblem("This file is empty. Choose the workbook that you filled in.")
    if len(data) > MOST_BYTES:
        raise SheetProblem(
            f"This file is {len(data) / MEBIBYTE:.1f} MB; at most {MOST_BYTES // MEBIBYTE} MB can be read. "
            "Copy the samples into a fresh workbook, or split them over two."
        )
    if not data.startswith(b"PK"):
        raise SheetProblem(_what_else(data))
    try:
        with ZipFile(BytesIO(data)) as archive:
            _check_parts(archive.infolist())
            _unpack(archive)
    except (BadZipFile, zlib.error, NotImplementedError, EOFError, OSError, ValueError, RuntimeError):
        raise damaged() from None


def _what_else(data: bytes) -> str:
    if data.startswith(OLD_BINARY):
        if ENCRYPTED_MARK in data:
            return "This workbook is locked with a password. Save it without a password and upload it again."
        return f"This is an old Excel file (.xls), whatever its name says. {SAVE_AS}"
    beginning = data.lstrip(b"\xef\xbb\xbf \r\n\t")
    for mark, sentence in BEGINNINGS:
        if beginning.startswith(mark):
            return sentence
    if b"\0" not in data[:CHUNK]:
        return f"This is a text file, such as CSV, not a workbook. {SAVE_AS}"
    return f"This is not a workbook. {SAVE_AS}"


def _check_parts(parts: list[ZipInfo]) -> None:
    if len(parts) > MOST_PARTS:
        raise SheetProblem(
            f"This file has {len(parts):,} parts inside; a sheet of samples has at most {MOST_PARTS}. "
            "Copy the samples into a fresh workbook and upload that."
        )
    names = [part.filename.casefold() for part in parts]
    if len(set(names)) != len(names):
        raise damaged()
    if any(part.flag_bits & 0x1 for part in parts):
        raise SheetProblem(
            "This file is locked with a password. Save it without a password and upload it again."
        )
    if any(part.compress_type not in (ZIP_STORED, ZIP_DEFLATED) for part in parts):
        raise damaged()
    _check_names(names)


def _check_names(names: list[str]) -> None:
    """Refuse archives with parts that must not be there, and those that are no workbook."""
    for mark, sentence in UNWANTED_PARTS:
        if any(mark in f"/{name}" for name in names):
            raise SheetProblem(sentence)
    for mark, sentence in OTHER_ARCHIVES:
        if mark in names:
            raise SheetProblem(sentence)
    if "[content_types].xml" not in names:
        raise SheetProblem(f"This is an archive, but not a workbook. {SAVE_AS}")


@dataclass(slots=True)
class Tally:
    """What was counted while unpacking."""

    unpacked: int = 0
    tags: int = 0
    strings: int = 0


def _unpack(archive: ZipFile) -> None:
    tally = Tally()
    for part in archive.infolist():
        _unpack_part(archive, part, tally)


def _unpack_part(archive: ZipFile, part: ZipInfo, tally: Tally) -> None:
    """Unpack one part as a stream, stopping at the first thing that must not be."""
    size, run, tail = 0, 0, b""
    with archive.open(part) as stream:
        while chunk := stream.read(CHUNK):
            size += len(chunk)
            tally.unpacked += len(chunk)
            packed_too_well = size > RATIO_FROM and size > MOST_RATIO * max(part.compress_size, 1)
            if tally.unpacked > MOST_UNPACKED or packed_too_well:
                raise too_large_inside()
            if part.filename.casefold().endswith((".xml", ".rels", ".vml")):
                run = _check_xml(tail + chunk, chunk, run, tally)
                tail = chunk[-32:]


def _check_xml(overlapping: bytes, chunk: bytes, run: int, tally: Tally) -> int:
    """Check one chunk of XML; returns the length of the text that is still open at its end."""
    if any(mark in overlapping for mark in DECLARATIONS):
        raise SheetProblem(
            "This workbook declares XML entities, which no spreadsheet program writes. "
            "Copy the samples into a fresh workbook and upload that."
        )
    tally.tags += chunk.count(b"<")
    tally.strings += chunk.count(b"<si") + chunk.count(b":si")
    if tally.tags > MOST_TAGS or tally.strings > MOST_STRINGS:
        raise too_large_inside()
    first, last = chunk.find(b"<"), chunk.rfind(b"<")
    run = run + len(chunk) if first < 0 else max(run + first, 0)
    if run > LONGEST_TEXT:
        raise SheetProblem(
            f"A cell of this workbook holds more than {LONGEST_TEXT // 1024:,} kB of text. "
            "Shorten it, and upload the workbook again."
        )
    return run if first < 0 else len(chunk) - last
