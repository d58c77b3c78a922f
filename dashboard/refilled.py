"""A form that was refused, as it is shown again to a browser without scripts: what was typed, and what is to be mended.

With scripts deeds.js does the same where the form stands, without leaving the page.
"""

from collections.abc import Iterator, Mapping
from html import escape
from html.parser import HTMLParser

_FORMS = frozenset({"deeds", "taps"})
_TICKED = frozenset({"radio", "checkbox"})
_NOT_TYPED = frozenset({"hidden", "submit", "button"})

Attrs = dict[str, str | None]


def refilled(html: str, sent: Mapping[str, str], wrong: Mapping[str, str]) -> str:
    """The page with the fields of its form as they were sent.

    wrong: what is to be mended, by the names of fields: each is marked, says why, and stands in an open part; the first
    is where one goes on.
    """
    form = _Refilled(html, sent, wrong)
    form.feed(html)
    form.close()
    return "".join(form.parts())


class _Refilled(HTMLParser):
    """Notes what is put in the place of what; all else stays as it is, to the letter."""

    def __init__(self, html: str, sent: Mapping[str, str], wrong: Mapping[str, str]) -> None:
        super().__init__(convert_charrefs=False)
        self._html, self._sent, self._wrong = html, sent, dict(wrong)
        self._lines = [0]
        for line in html.split("\n"):
            self._lines.append(self._lines[-1] + len(line) + 1)
        self._is_within, self._is_labelled, self._select = False, False, ""
        self._folded: list[tuple[int, str]] = []
        self._after_label: list[str] = []
        self._changes: dict[int, tuple[int, str]] = {}
        self._has_focus = False

    def parts(self) -> Iterator[str]:
        """The page, in pieces."""
        done = 0
        for at, (end, put) in sorted(self._changes.items()):
            yield self._html[done:at]
            yield put
            done = end
        yield self._html[done:]

    def handle_starttag(self, tag: str, found: list[tuple[str, str | None]]) -> None:
        attrs: Attrs = dict(found)
        if tag == "form":
            self._is_within = attrs.get("id") in _FORMS
        if not self._is_within:
            return
        if tag == "details":
            self._folded.append((self._at, self.get_starttag_text() or ""))
        elif tag == "label":
            self._is_labelled = True
        elif tag == "select":
            self._select = attrs.get("name") or ""
            self._fill(tag, attrs)
        elif tag == "input":
            self._fill(tag, attrs)
        elif tag == "option" and self._select in self._sent:
            _turn(attrs, "selected", is_on=attrs.get("value") == self._sent[self._select])
            self._put(tag, attrs)

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._is_within = False
        elif tag == "details" and self._folded:
            self._folded.pop()
        elif tag == "label":
            self._is_labelled = False
            if self._after_label:
                at = self._at + len("</label>")
                self._changes[at] = (at, "".join(self._after_label))
                self._after_label.clear()

    def _fill(self, tag: str, attrs: Attrs) -> None:
        name, kind = attrs.get("name") or "", attrs.get("type") or tag
        if kind in _NOT_TYPED or not name:
            return
        if kind in _TICKED:
            _turn(attrs, "checked", is_on=self._sent.get(name) == attrs.get("value"))
        elif tag == "input" and name in self._sent:
            attrs["value"] = self._sent[name]
        said = self._mark(name, attrs) if name in self._wrong else ""
        self._put(tag, attrs, "" if self._is_labelled else said)
        if self._is_labelled and said:
            self._after_label.append(said)

    def _mark(self, name: str, attrs: Attrs) -> str:
        """What stands at the first field of that name."""
        attrs |= {"aria-invalid": "true", "aria-describedby": f"amiss:{name}"}
        if not self._has_focus:
            self._has_focus = True
            attrs["autofocus"] = None
        for at, text in self._folded:
            if " open" not in text:
                self._changes[at] = (at + len(text), text[:-1] + " open>")
        why = self._wrong[name]
        self._wrong[name] = ""
        return f'<p class="amiss" id="amiss:{escape(name)}">{escape(why)}</p>' if why else ""

    def _put(self, tag: str, attrs: Attrs, after: str = "") -> None:
        text = self.get_starttag_text() or ""
        inside = "".join(f" {name}" if value is None else f' {name}="{escape(value)}"' for name, value in attrs.items())
        self._changes[self._at] = (self._at + len(text), f"<{tag}{inside}>{after}")

    @property
    def _at(self) -> int:
        line, column = self.getpos()
        return self._lines[line - 1] + column


def _turn(attrs: Attrs, name: str, *, is_on: bool) -> None:
    attrs.pop(name, None)
    if is_on:
        attrs[name] = None
