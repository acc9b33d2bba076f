"""The sheets of a PDF as PDFium, the reader of a browser, reads and draws them."""

import PIL.Image
import pypdfium2


def texts_of(data: bytes) -> list[str]:
    """Return the text of each sheet, its line breaks as they are drawn."""
    document = pypdfium2.PdfDocument(data)
    texts = [sheet.get_textpage().get_text_bounded() for sheet in document]
    # PDFium gives a hyphen at the end of a line as U+0002, which no text of ours holds.
    return [text.replace("\x02", "-") for text in texts]


def within(data: bytes) -> bool:
    """Return whether all text of all sheets lies on the paper."""
    for sheet in pypdfium2.PdfDocument(data):
        wide, high = sheet.get_size()
        page = sheet.get_textpage()
        for place in range(page.count_rects()):
            left, bottom, right, top = page.get_rect(place)
            if left < 0 or bottom < 0 or right > wide or top > high:
                return False
    return True


def drawn(data: bytes, dots: int = 150) -> PIL.Image.Image:
    """Return the first sheet drawn in grey, so many dots to the inch."""
    first = pypdfium2.PdfDocument(data)[0]
    return first.render(scale=dots / 72, grayscale=True).to_pil()
