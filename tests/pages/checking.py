"""What every HTML page must be."""

import html.parser
import re


class Checker(html.parser.HTMLParser):
    """Collects tags and attributes, and sees that tags are closed in order."""

    VOID = frozenset({"meta", "br", "img", "path", "use", "rect", "circle"})

    def __init__(self, text):
        super().__init__()
        self.open, self.tags, self.attributes, self.ids = [], set(), [], []
        self.feed(text)
        assert self.open == []

    def handle_starttag(self, tag, attributes):
        self.tags.add(tag)
        self.attributes += attributes
        self.ids += [value for name, value in attributes if name == "id"]
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attributes):
        self.tags.add(tag)
        self.ids += [value for name, value in attributes if name == "id"]

    def handle_endtag(self, tag):
        if tag not in self.VOID:
            assert self.open.pop() == tag


def self_contained(text):
    found = Checker(text)
    assert not found.tags & {"script", "link", "iframe", "object", "embed", "form", "img", "a", "base"}
    for name, value in found.attributes:
        assert not name.startswith("on"), name
        if name in ("src", "href", "xlink:href"):
            assert value.startswith("#"), value
    assert len(found.ids) == len(set(found.ids))
    assert "http" not in re.sub(r'xmlns(:\w+)?="[^"]*"', "", text).replace("http-equiv", "")
    return found
