"""The gate every XML file of a stranger goes through: size, encoding, no DTD, no entities."""

from xml.etree.ElementTree import Element, ParseError

from defusedxml import DefusedXmlException
from defusedxml.ElementTree import DefusedXMLParser

from replanner.advice.names import clean, shorten
from replanner.errors import InputError

_BYTES_PER_MEGABYTE = 1_000_000
# Two megabytes of real points, each with its height, hold some 120,000; a file made of nothing but
# tags would take seconds and hundreds of megabytes to read. Assumption.
_MOST_TAGS = 200_000
_UTF_8_MARK = b"\xef\xbb\xbf"
_WIDTH = 60  # characters of a file's name told


def shown_name(where: str) -> str:
    """Return a file's name fit to be told: one line, not too long. It is never used as a path."""
    return shorten(where, _WIDTH) or "file"


def read_xml(data: bytes, *, where: str, most_bytes: int) -> Element:
    """Return the root of an XML file in UTF-8.

    The text is read as UTF-8 whatever it says of itself; a document type, an entity or a
    reference to another file is refused before anything of it is expanded.

    Parameters
    ----------
    where : str
        What the file is called in an error.
    most_bytes : int
        Larger files are refused unread.

    Raises
    ------
    InputError
        In one line: what is wrong, where, how to mend it.
    """
    name = shown_name(where)
    if len(data) > most_bytes:
        raise InputError(
            f"is {_megabytes(len(data))} long, more than {_megabytes(most_bytes)}",
            where=name,
            mend="send one day, or export it with fewer points",
        )
    if not data.strip():
        raise InputError("is empty", where=name, mend="export it again")
    if data.startswith((b"\xff\xfe", b"\xfe\xff")) or b"\x00" in data[:4]:
        raise InputError(
            "is not written in UTF-8 but in UTF-16 or the like", where=name, mend=_AS_UTF_8
        )
    try:
        data.removeprefix(_UTF_8_MARK).decode("utf-8")
    except UnicodeDecodeError as error:
        raise InputError(
            f"is not written in UTF-8 (byte {error.start + 1})", where=name, mend=_AS_UTF_8
        ) from None
    return _parsed(data, name)


_AS_UTF_8 = "save it as UTF-8"


def _parsed(data: bytes, name: str) -> Element:
    if data.count(b"<") > _MOST_TAGS:
        raise InputError(
            f"holds more than {_MOST_TAGS} tags",
            where=name,
            mend="send one day, or export it with fewer points",
        )
    parser = DefusedXMLParser(
        encoding="utf-8", forbid_dtd=True, forbid_entities=True, forbid_external=True
    )
    try:
        parser.feed(data)
        return parser.close()
    except DefusedXmlException:
        raise InputError(
            "holds a document type or entities, which a track does not need",
            where=name,
            mend="export it again from the program that recorded it",
        ) from None
    except ParseError as error:
        line = error.position[0]
        raise InputError(
            f"is not XML: {clean(str(error)).partition(':')[0]}",
            where=f"{name}, line {line}",
            mend="export it again",
        ) from None


def _megabytes(size: int) -> str:
    return f"{size / _BYTES_PER_MEGABYTE:.1f} MB"


def local_name(element: Element) -> str:
    """Return an element's name without its namespace; empty for comments and the like."""
    return element.tag.rpartition("}")[2] if isinstance(element.tag, str) else ""
