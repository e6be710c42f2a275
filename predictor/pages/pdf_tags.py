"""Tags of a PDF: what each piece of it is, in reading order, for who listens to it and for who searches it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from fpdf import FPDF
from fpdf.output import PDFPage
from fpdf.prefs import ViewerPreferences
from fpdf.structure_tree import StructTreeRoot
from fpdf.syntax import PDFObject, PDFString

# Elements that hold text or a picture; all that is drawn elsewhere, such as a border, is decoration.
_LEAVES = frozenset({"H1", "H2", "H3", "P", "Lbl", "LBody", "Caption", "TH", "TD", "Figure"})
# An operator that paints, at the end of what the library writes at once or before its next operator.
_PAINTS = re.compile(rb"(?:^|[\s)>])(?:Tj|TJ|Do|sh|[SsBbf]\*?|F)(?=\s|$)")


class Element(PDFObject):
    """A node of the tree of tags."""

    def __init__(self, kind: str, parent: PDFObject, alt: str = "", attributes: str = ""):
        super().__init__()
        self.kind, self.parent, self.alt, self.attributes = kind, parent, alt, attributes
        self.kids: list[Element] = []
        self.pieces: list[tuple[PDFPage, int]] = []  # Marked content: its sheet and its number there

    def serialize(self, obj_dict: Any = None, _security_handler: Any = None) -> str:
        """The element as the file has it."""
        inside: dict[str, object] = {"/S": f"/{self.kind}", "/P": self.parent.ref}
        sheets = {page.ref for page, _ in self.pieces}
        if len(sheets) == 1:
            inside["/Pg"] = sheets.pop()
            kids = [str(number) for _, number in self.pieces]
        else:
            kids = [f"<</Type /MCR /Pg {page.ref} /MCID {number}>>" for page, number in self.pieces]
        kids += [kid.ref for kid in self.kids]
        if kids:
            inside["/K"] = kids[0] if len(kids) == 1 else f"[{' '.join(kids)}]"
        if self.attributes:
            inside["/A"] = f"<<{self.attributes}>>"
        if self.alt:
            inside["/Alt"] = _string(self.alt)
        return super().serialize(inside, _security_handler)

    def whole(self) -> Iterator[Element]:
        """This element and all below it, in reading order."""
        yield self
        for kid in self.kids:
            yield from kid.whole()


def _string(text: str) -> str:
    """A text as the file has it; no bracket or backslash in it ends it early."""
    if text.isascii():
        escaped = re.sub(r"([\\()])", r"\\\1", text)
        return f"({escaped})"
    return PDFString(text).serialize()


class Tree:
    """The tree of tags, in the place of the library's own, which has one level only."""

    def __init__(self) -> None:
        self.struct_tree_root = StructTreeRoot()
        self.document = Element("Document", self.struct_tree_root)
        self.struct_tree_root.k.append(self.document)
        # what the library would give a sheet to: each of our elements knows its own
        self.doc_struct_elem = StructTreeRoot()

    def __iter__(self) -> Iterator[PDFObject]:
        yield self.struct_tree_root
        yield self.struct_tree_root.parent_tree
        yield from self.document.whole()

    def empty(self) -> bool:
        """Whether there is nothing to write."""
        return not self.document.kids

    def mark(self, page: PDFPage, element: Element) -> int:
        """The number of a new piece of marked content."""
        if page.struct_parents is None:
            page.struct_parents = len(self.struct_tree_root.parent_tree.nums)
        owners = self.struct_tree_root.parent_tree.nums[page.struct_parents]
        owners.append(element)
        element.pieces.append((page, len(owners) - 1))
        return len(owners) - 1


class Tagged(FPDF):
    """A document in which everything that is painted is within a tag, or is marked as decoration."""

    def __init__(self, wide: float, tall: float, title: str):
        super().__init__(unit="mm", format=(wide, tall))
        self.tree = Tree()
        self.struct_builder: Any = self.tree
        self.pdf_version = "1.7"
        self.set_title(title)
        self.set_lang("en")
        self.viewer_preferences = ViewerPreferences(display_doc_title=True)
        self.measuring = False  # Whether drawing only moves on, and leaves no trace
        self._inside: Element | None = self.tree.document  # None in decoration
        self._begun: tuple[Element | None] | None = None  # Whose marked content is open

    @contextmanager
    def tag(self, kind: str, **said: str) -> Iterator[None]:
        """What is drawn within belongs to a new element, below the one that is open."""
        with self.within(self.element(kind, **said)):
            yield

    def element(self, kind: str, **said: str) -> Element | None:
        """A new element below the one that is open; None in decoration, and while measuring."""
        if self._inside is None or self.measuring:
            return None
        found = Element(kind, self._inside, **said)
        self._inside.kids.append(found)
        return found

    @contextmanager
    def within(self, element: Element | None) -> Iterator[None]:
        """What is drawn within belongs to this element; to none where it is None."""
        before, self._inside = self._inside, element
        self._end()
        yield
        self._end()
        self._inside = before

    def decoration(self) -> Any:
        """What is drawn within is no part of the text: a page number, a head that is repeated."""
        return self.within(None)

    def add_page(self, *args: Any, **kwargs: Any) -> None:
        """Begin a new sheet; a tag that is open goes on there."""
        if self.measuring:
            return
        if self.page:
            self._end()
        super().add_page(*args, **kwargs)

    def will_page_break(self, height: float) -> bool:
        """Whether so many millimetres no longer fit on this sheet."""
        return not self.measuring and super().will_page_break(height)

    def _out(self, s: str | bytes) -> None:
        """What the library writes to a sheet, within marked content where it paints."""
        if self.measuring:
            return
        if _PAINTS.search(s if isinstance(s, bytes) else s.encode("latin1")):
            self._begin()
        super()._out(s)

    def _begin(self) -> None:
        """Open marked content for what is drawn now."""
        owner = self._inside if self._inside is not None and self._inside.kind in _LEAVES else None
        if self._begun == (owner,):
            return
        self._end()
        if owner is None:
            super()._out("/Artifact BMC")
        else:
            super()._out(f"/{owner.kind} <</MCID {self.tree.mark(self.pages[self.page], owner)}>> BDC")
        self._begun = (owner,)

    def _end(self) -> None:
        """Close the marked content that is open."""
        if self._begun is not None and not self.measuring:
            super()._out("EMC")
            self._begun = None
