"""Structure of a PDF: headings, lines of text and figures, for readers that do not see the page.

The PDF library writes none, so marked content and the structure tree are added here; this module
alone touches the library's insides.

References
----------
ISO 32000-1:2008, 14.6 Marked content, 14.7 Logical structure, 14.8 Tagged PDF.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, Literal

from reportlab.pdfbase.pdfdoc import PDFArray, PDFDictionary, PDFName, PDFString
from reportlab.pdfgen.canvas import Canvas

Role = Literal["H1", "H2", "P", "Figure"]


class Structure:
    """Collects what each page holds, in reading order, and writes it into the document."""

    def __init__(self, canvas: Canvas) -> None:
        self._canvas: Any = canvas
        self._pages: list[list[tuple[Role, str]]] = [[]]

    @contextmanager
    def content(self, role: Role, spoken: str = "") -> Iterator[None]:
        """Mark what is drawn inside as one element, with its text for a figure."""
        marked = self._pages[-1]
        self._canvas._code.append(f"/{role} <</MCID {len(marked)}>> BDC")
        marked.append((role, spoken))
        yield
        self._canvas._code.append("EMC")

    @contextmanager
    def artifact(self) -> Iterator[None]:
        """Mark what is drawn inside as furniture of the page, not to be read out."""
        self._canvas._code.append("/Artifact BMC")
        yield
        self._canvas._code.append("EMC")

    def next_page(self) -> None:
        """Start a new page."""
        self._pages.append([])

    def write(self) -> None:
        """Build the structure tree; call once, after the last page is closed."""
        document = self._canvas._doc
        root = PDFDictionary({"Type": PDFName("StructTreeRoot")})
        root_reference = document.Reference(root)
        whole = PDFDictionary(
            {"Type": PDFName("StructElem"), "S": PDFName("Document"), "P": root_reference}
        )
        whole_reference = document.Reference(whole)
        parents: list[Any] = []
        children: list[Any] = []
        for number, (page, marked) in enumerate(
            zip(document.Pages.pages, self._pages, strict=False)
        ):
            # The library knows no such key; its page objects write what their class lists.
            page.__NoDefault__ = [*type(page).__NoDefault__, "StructParents"]
            page.StructParents = number
            references = []
            for index, (role, spoken) in enumerate(marked):
                element = PDFDictionary(
                    {
                        "Type": PDFName("StructElem"),
                        "S": PDFName(role),
                        "P": whole_reference,
                        "Pg": document.Reference(page),
                        "K": index,
                    }
                )
                if spoken:
                    element["Alt" if role == "Figure" else "ActualText"] = PDFString(spoken)
                references.append(document.Reference(element))
            children += references
            parents += [number, PDFArray(references)]
        whole["K"] = PDFArray(children)
        root["K"] = PDFArray([whole_reference])
        root["ParentTree"] = PDFDictionary({"Nums": PDFArray(parents)})
        document.Catalog.StructTreeRoot = root_reference
        document.Catalog.MarkInfo = PDFDictionary({"Marked": "true"})
