"""What a browser finds in pages of ours: elements, links and forms. By the standard library's parser, not by ours."""

import re
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from urllib.parse import urljoin, urlsplit

from httpx import Client, Response

Attrs = dict[str, str]
MOST_ALIKE = 3
TEXTS = frozenset({"text", "search", "textarea"})
"""Kinds of fields into which anything can be typed."""


@dataclass
class Field:
    """kind: type of an input, 'select', 'textarea' or 'button'. values: what it has or offers."""

    kind: str
    values: list[str] = field(default_factory=list)


@dataclass
class Form:
    """A form as it would be sent; fields by name."""

    action: str
    method: str
    fields: dict[str, Field] = field(default_factory=dict)

    def filled(self) -> dict[str, str]:
        """As it stands, with something fitting in what is empty."""
        fitting = {"number": "1", "date": "2099-01-31", "datetime-local": "2023-11-14T22:20", "password": "x"}
        return {name: (own.values or [fitting.get(own.kind, "x")])[0] for name, own in self.fields.items()}


class Seen(HTMLParser):
    """Elements with their attributes, links and forms of a page."""

    def __init__(self, html: str, at: str) -> None:
        super().__init__()
        self.at = at
        self.elements: list[tuple[str, Attrs]] = []
        self.forms: list[Form] = []
        self._select: Field | None = None
        self.feed(html)
        self.close()

    @property
    def links(self) -> set[str]:
        """Paths to which it leads on this host."""
        hrefs = [
            urlsplit(urljoin(self.at, attrs["href"])) for tag, attrs in self.elements if tag == "a" and "href" in attrs
        ]
        return {parts.path for parts in hrefs if not parts.netloc}

    def handle_starttag(self, tag: str, found: list[tuple[str, str | None]]) -> None:
        attrs = {name: value or "" for name, value in found}
        self.elements.append((tag, attrs))
        if tag == "form":
            action = urlsplit(urljoin(self.at, attrs.get("action", self.at))).path
            self.forms.append(Form(action, attrs.get("method", "get").lower()))
        elif tag == "option" and self._select is not None:
            self._select.values.append(attrs.get("value", ""))
        elif tag in {"input", "select", "textarea", "button"}:
            self._enter(tag, attrs)

    def handle_endtag(self, tag: str) -> None:
        if tag == "select":
            self._select = None

    def _enter(self, tag: str, attrs: Attrs) -> None:
        kind = attrs.get("type", "text") if tag == "input" else tag
        made = Field(kind)
        if tag == "select":
            self._select = made
        if not self.forms or "name" not in attrs:
            return
        own = self.forms[-1].fields.setdefault(attrs["name"], made)
        if tag == "select":
            self._select = own
        if "value" in attrs and (attrs["value"] or kind == "hidden"):
            own.values.append(attrs["value"])


@dataclass
class Walk:
    """Pages by their paths, and the forms in them, each once."""

    pages: dict[str, str] = field(default_factory=dict)
    forms: list[Form] = field(default_factory=list)


def walk(client: Client, begin: Iterable[str]) -> Walk:
    """Follow every link from where it begins; no path twice, and of pages of one kind ``MOST_ALIKE``."""
    found, todo = Walk(), list(begin)
    known: set[object] = set(todo)
    alike: Counter[str] = Counter()
    while todo:
        path = todo.pop()
        kind = re.sub(r"[^/]*\d[^/]*", "#", path)
        alike[kind] += 1
        if alike[kind] > MOST_ALIKE:
            continue
        answer = client.get(path, follow_redirects=True)
        if not is_page(answer):
            continue
        found.pages[path] = answer.text
        seen = Seen(answer.text, answer.url.path)
        found.forms += _anew(seen.forms, known)
        todo += sorted(seen.links - known)  # type: ignore[type-var]  # only texts are paths
        known |= seen.links
    return found


def _anew(forms: Iterable[Form], known: set[object]) -> Iterator[Form]:
    for form in forms:
        key = (form.action, form.method, *sorted(form.fields))
        if key not in known:
            known.add(key)
            yield form


def is_page(answer: Response) -> bool:
    """Whether it is read as HTML."""
    return answer.headers.get("content-type", "").startswith("text/html")
