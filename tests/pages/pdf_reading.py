"""What a PDF says to who listens to it, read by pdfium, which this program does not use."""

import ctypes
from dataclasses import dataclass, field

import pypdfium2
import pypdfium2.raw as pdfium


@dataclass
class Tag:
    """A node of the tree of tags."""

    kind: str
    text: str
    alt: str = ""
    scope: str = ""
    kids: list["Tag"] = field(default_factory=list)

    def whole(self):
        """This tag and all below it, in reading order."""
        yield self
        for kid in self.kids:
            yield from kid.whole()


@dataclass(frozen=True)
class Piece:
    """A line of text as it is painted."""

    text: str
    points: float
    number: int  # Of its marked content; -1 for none
    left: float
    low: float
    right: float


@dataclass(frozen=True)
class Sheet:
    """One sheet."""

    tags: tuple[Tag, ...]
    pieces: tuple[Piece, ...]
    unmarked: int  # Things painted outside all marked content
    images: int
    wide: float
    tall: float

    def of(self, *kinds):
        """The texts of the tags of these kinds, in reading order."""
        return [each.text for tag in self.tags for each in tag.whole() if each.kind in kinds]

    @property
    def aside(self):
        """What is not read out."""
        return [each.text for each in self.pieces if each.number < 0]


def read_sheets(data):
    """Every sheet of a PDF."""
    document = pypdfium2.PdfDocument(data)
    try:
        return [_sheet(page) for page in document]
    finally:
        document.close()


def is_tagged(data):
    """Whether the file says that it has tags."""
    document = pypdfium2.PdfDocument(data)
    try:
        return bool(pdfium.FPDFCatalog_IsTagged(document.raw))
    finally:
        document.close()


def read_tags(data):
    """Every tag of a PDF, sheet by sheet: (kind, text)."""
    return [(each.kind, each.text) for sheet in read_sheets(data) for tag in sheet.tags for each in tag.whole()]


def _sheet(page):
    read, unmarked, images = page.get_textpage(), 0, 0
    pieces = []
    for each in page.get_objects(max_depth=1):
        kind = pdfium.FPDFPageObj_GetType(each.raw)
        unmarked += not pdfium.FPDFPageObj_CountMarks(each.raw)
        images += kind == pdfium.FPDF_PAGEOBJ_IMAGE
        if kind == pdfium.FPDF_PAGEOBJ_TEXT:
            pieces.append(_piece(each, read))
    tree = pdfium.FPDF_StructTree_GetForPage(page.raw)
    try:
        texts = {}
        for piece in pieces:
            texts[piece.number] = texts.get(piece.number, "") + piece.text
        kids = [
            pdfium.FPDF_StructTree_GetChildAtIndex(tree, k) for k in range(pdfium.FPDF_StructTree_CountChildren(tree))
        ]
        tags = tuple(_tag(kid, texts) for kid in kids)
    finally:
        pdfium.FPDF_StructTree_Close(tree)
    return Sheet(tags, tuple(pieces), unmarked, images, *page.get_size())


def _piece(each, read):
    size = ctypes.c_float()
    pdfium.FPDFTextObj_GetFontSize(each.raw, size)
    matrix = pdfium.FS_MATRIX()
    pdfium.FPDFPageObj_GetMatrix(each.raw, matrix)
    scale = (matrix.c**2 + matrix.d**2) ** 0.5
    length = pdfium.FPDFTextObj_GetText(each.raw, read.raw, None, 0)
    room = ctypes.create_string_buffer(length)
    pdfium.FPDFTextObj_GetText(each.raw, read.raw, ctypes.cast(room, ctypes.POINTER(ctypes.c_ushort)), length)
    left, low, right, _ = each.get_bounds()
    number = pdfium.FPDFPageObj_GetMarkedContentID(each.raw)
    return Piece(_wide(room), size.value * scale, number, left, low, right)


def _wide(room):
    return room.raw.decode("utf-16-le").rstrip("\0")


def _said(ask, *what):
    length = ask(*what, None, 0)
    room = ctypes.create_string_buffer(max(length, 2))
    ask(*what, room, length)
    return _wide(room)


def _tag(element, texts):
    count = range(pdfium.FPDF_StructElement_CountChildren(element))
    # -1 for a child that is a tag, and for marked content of another sheet
    numbers = [pdfium.FPDF_StructElement_GetChildMarkedContentID(element, k) for k in count]
    kids = [pdfium.FPDF_StructElement_GetChildAtIndex(element, k) for k in count]
    return Tag(
        _said(pdfium.FPDF_StructElement_GetType, element),
        "".join(texts.get(each, "") for each in numbers if each >= 0),
        _said(pdfium.FPDF_StructElement_GetAltText, element),
        _scope(element),
        [_tag(kid, texts) for kid in kids if kid],
    )


def _scope(element):
    for k in range(pdfium.FPDF_StructElement_GetAttributeCount(element)):
        attribute = pdfium.FPDF_StructElement_GetAttributeAtIndex(element, k)
        value = pdfium.FPDF_StructElement_Attr_GetValue(attribute, b"Scope")
        if value:
            length = ctypes.c_ulong()
            room = ctypes.create_string_buffer(200)
            pdfium.FPDF_StructElement_Attr_GetStringValue(value, room, 200, length)
            return room.raw[: length.value].decode("utf-16-le").rstrip("\0")
    return ""
