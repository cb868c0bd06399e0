"""From the bytes of a CSV file to its text: which encoding, told from the bytes or by the mapping."""

from __future__ import annotations

import codecs
import re

from registry.intake.log_remarks import Remarks
from registry.schema.errors import GravelbookError

# The longer marks come first, as one begins like the other.
_MARKS = {
    codecs.BOM_UTF8: "utf-8",
    codecs.BOM_UTF32_LE: "utf-32-le",
    codecs.BOM_UTF32_BE: "utf-32-be",
    codecs.BOM_UTF16_LE: "utf-16-le",
    codecs.BOM_UTF16_BE: "utf-16-be",
}
_NAMES = {"utf-16-le": "UTF-16", "utf-16-be": "UTF-16", "utf-32-le": "UTF-32", "utf-32-be": "UTF-32"}
_WINDOWS = "windows-1252"
# A letter beyond ASCII as UTF-8 writes it; in Windows-1252 such a pair is a pair of unlikely neighbours.
_UTF8_LETTER = re.compile(rb"[\xc3-\xdf][\x80-\xbf]|[\xe0-\xef][\x80-\xbf]{2}")
_SAMPLE = 100_000
_ADVICE = "Save it as CSV in UTF-8, or say in the mapping how it is written: encoding under [reading]."


def decoded(content: bytes, encoding: str, remarks: Remarks) -> str:
    """The text of a file.

    Args:
        content: its bytes.
        encoding: as the mapping says; blank to tell it from the bytes.
        remarks: takes a note wherever the bytes are not simply UTF-8.

    Raises:
        GravelbookError: the bytes are no text in that encoding, or in none.
    """
    if encoding:
        return _declared(content, encoding, remarks.file)
    for mark, name in _MARKS.items():
        if content.startswith(mark):
            return _marked(content.removeprefix(mark), name, remarks)
    wide = _unmarked_wide(content)
    if wide:
        return _marked(content, wide, remarks)
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError:
        return _windows(content, remarks)


def _declared(content: bytes, encoding: str, file: str) -> str:
    try:
        return content.decode(encoding).removeprefix("\ufeff")
    except LookupError:
        raise GravelbookError(
            f"The mapping says that {file} is written in '{encoding}', and there is no such encoding. "
            "Common ones are utf-8, windows-1252, iso-8859-15, mac-roman and utf-16."
        ) from None
    except UnicodeError as fault:
        where = f" (line {_line(content, fault.start)})" if isinstance(fault, UnicodeDecodeError) else ""
        raise GravelbookError(
            f"{file} is not written in {encoding}, as the mapping says{where}. Mend encoding under [reading], or leave "
            "it out to have it told from the file."
        ) from None


def _marked(content: bytes, name: str, remarks: Remarks) -> str:
    shown = _NAMES.get(name)
    if shown:
        remarks.note("encoding", f"The file is written in {shown} and was read so.")
    try:
        return content.decode(name)
    except UnicodeDecodeError as fault:
        raise GravelbookError(
            f"{remarks.file} begins as {shown or 'UTF-8'}, but line {_line(content, fault.start)} holds bytes that are "
            f"not. It is cut off, or was put together from several files. {_ADVICE}"
        ) from None


def _unmarked_wide(content: bytes) -> str | None:
    """UTF-16 without its mark: Latin letters leave every other byte zero."""
    sample = content[: _SAMPLE // 2 * 2]
    half = max(1, len(sample) // 2)
    if sample[1::2].count(0) > half * 0.6:
        return "utf-16-le"
    return "utf-16-be" if sample[0::2].count(0) > half * 0.6 else None


def _windows(content: bytes, remarks: Remarks) -> str:
    try:
        text = content.decode(_WINDOWS)
    except UnicodeDecodeError as fault:
        raise GravelbookError(
            f"It cannot be told how {remarks.file} writes its letters: it is neither UTF-8 nor Windows-1252 (line "
            f"{_line(content, fault.start)} holds a byte that is in neither). {_ADVICE}"
        ) from None
    remarks.note(
        "encoding", "The file is not UTF-8 and was read as Windows-1252.", "encoding under [reading] if not so"
    )
    mixed = _UTF8_LETTER.search(content)
    if mixed:
        remarks.question(
            "encoding",
            "The file is not UTF-8 as a whole, but letters in this line look like UTF-8: parts of it may come from "
            "another program, and letters may be wrong.",
            "look at the letters with accents; save the file anew as CSV in UTF-8",
            row=_line(content, mixed.start()),
        )
    return text


def _line(content: bytes, at: int) -> int:
    before = content[:at]
    return before.count(b"\n") + before.count(b"\r") - before.count(b"\r\n") + 1
