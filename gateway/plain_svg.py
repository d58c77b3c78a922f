"""SVG as any page may show it: no script, no style of its own, a name for those who do not see it."""

from collections.abc import Iterator
from xml.etree import ElementTree as ET

_SVG, _LINK = "http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"
_DROPPED = {f"{{{_SVG}}}style", f"{{{_SVG}}}metadata", f"{{{_SVG}}}title", f"{{{_SVG}}}desc"}
ET.register_namespace("", _SVG)
ET.register_namespace("xlink", _LINK)


def plain_svg(svg: str, width: int, height: int, title: str, described: str) -> str:
    """The drawing with its styles as attributes, since a page's security policy may let no style stand in a document.

    width, height: in CSS px. title, described: said by a screen reader.
    """
    root = ET.fromstring(svg)  # noqa: S314 - our own
    drop(root, _DROPPED)
    styles_as_attributes(root)
    # What matplotlib's own style says of every element.
    root.attrib.update({"width": str(width), "height": str(height), "role": "img"})
    root.attrib.update({"stroke-linejoin": "round", "stroke-linecap": "butt"})
    for tag, words in (("desc", described), ("title", title)):
        said = ET.Element(f"{{{_SVG}}}{tag}")
        said.text = "".join(_writable(words))
        root.insert(0, said)
    return ET.tostring(root, encoding="unicode")


def drop(root: ET.Element, tags: set[str]) -> None:
    """Take elements with these tags out, wherever they are."""
    for parent in list(root.iter()):
        for child in [child for child in parent if child.tag in tags]:
            parent.remove(child)


def styles_as_attributes(root: ET.Element) -> None:
    """Put what stands in ``style`` into the attributes of the same names."""
    for element in root.iter():
        for part in element.attrib.pop("style", "").split(";"):
            name, _, value = part.partition(":")
            if value:
                element.set(name.strip(), value.strip().replace("None", "none"))


def _writable(words: str) -> Iterator[str]:
    """Characters that XML 1.0 allows."""
    return (sign for sign in words if sign in "\t\n" or sign >= " ")
