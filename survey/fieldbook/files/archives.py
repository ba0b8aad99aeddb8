"""Whether a zipped or XML file is safe to open: its size unpacked, its checksums, no declared entities.

Knows nothing of what the parts say.
"""

from __future__ import annotations

import io
import zipfile
import zlib

from survey.errors import SourceRow
from survey.fieldbook.files.sources import Source
from survey.fieldbook.remarks import Remarks

MAX_UNPACKED = 256 * 1024 * 1024
MAX_PARTS = 10_000
CHUNK = 1 << 20
OVERLAP = 16
"""Bytes of a chunk looked at again with the next, so that no word is cut."""
BROKEN = (zipfile.BadZipFile, zlib.error, NotImplementedError, RuntimeError, ValueError, OSError, EOFError)
"""What the library raises where an archive is damaged, locked or packed in ways it does not know."""
XML_ENDINGS = (".xml", ".kml", ".rels")


def is_safe_archive(source: Source, remarks: Remarks) -> bool:
    """Whether a zipped file unpacks whole, to a sane size, and declares no XML entities; a fault if not.

    Every part is unpacked once, piece by piece: sizes and checksums are those met, not those declared.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(source.data)) as archive:
            parts = archive.infolist()
            if len(parts) > MAX_PARTS or sum(part.file_size for part in parts) > MAX_UNPACKED:
                remarks.fault(
                    SourceRow(source.name),
                    "the file unpacks to far more than a survey holds",
                    "Save it again with its tables only.",
                )
                return False
            for part in parts:
                if _declares_entities_inside(archive, part):
                    tell_entities(source, remarks)
                    return False
    except BROKEN as trouble:
        remarks.fault(
            SourceRow(source.name), f"the file is damaged or locked ({trouble})", "Save it again, without a password."
        )
        return False
    return True


def _declares_entities_inside(archive: zipfile.ZipFile, part: zipfile.ZipInfo) -> bool:
    is_xml, tail, found = part.filename.casefold().endswith(XML_ENDINGS), b"", False
    with archive.open(part) as stream:
        # To the end in any case: only then has the checksum been compared.
        while chunk := stream.read(CHUNK):
            found = found or (is_xml and declares_entities(tail + chunk))
            tail = chunk[-OVERLAP:]
    return found


def declares_entities(data: bytes) -> bool:
    """Whether an XML file declares entities or a document type, in whatever encoding."""
    squeezed = data.replace(b"\0", b"").upper()
    return b"<!ENTITY" in squeezed or b"<!DOCTYPE" in squeezed


def tell_entities(source: Source, remarks: Remarks) -> None:
    """The fault of a file that declares entities."""
    remarks.fault(
        SourceRow(source.name),
        "its XML declares entities, which are not read",
        "Save it again in the program it came from.",
    )
