"""The site of the benchmark of delivery: basins whose warmth raises alerts, each basin with contacts of its own."""

from collections.abc import Callable, Sequence

COLDEST = 40
"""Rule n holds above so many degrees and n: each step of a basin's temperature raises one more alert."""

HOOKS = ("hook", "failing", "hanging")

_HEAD = """
[site]
id = "bench"
name = "Bench"
[broker]
port = 0
[alerts]
most_pages = 60
[[station]]
id = "room"
name = "Room"
[[label]]
id = "short"
chemistry = "test"
min_minutes = 5
min_celsius = 20
source = "made up"
[[channel]]
id = "mail"
kind = "smtp"
host = "127.0.0.1"
port = {smtp}
sender = "sinkside@example.org"
tls = "none"
[[channel]]
id = "pager"
kind = "snpp"
host = "127.0.0.1"
port = {snpp}
tls = "none"
"""
_HOOK = """
[[channel]]
id = "{name}"
kind = "webhook"
url = "http://127.0.0.1:{hooks}/{name}"
secret_env = "SINKSIDE_BENCH_SECRET"
"""
_RULE = """
[[rule]]
id = "bench-{n:02}"
watches = "basin"
condition = "solution_celsius > {celsius}.0"
on_delay_seconds = {{ value = 0, unit = "s", low = 0, high = 600, source = "made up" }}
priority = "high"
text = "{{name}} R{n:02}"
advice = "none"
source = "made up"
"""
_BASIN = """
[[basin]]
id = "b{basin}"
name = "B{basin:02}"
station = "room"
label = "short"
[[route]]
name = "{basin}"
places = ["b{basin}"]
rules = {rules}
tiers = [{{ roles = {roles} }}]
"""
_ROLE = """
[[role]]
id = "{role}"
name = "{role}"
[[contact]]
id = "{role}"
name = "{role}"
ways = [{{ channel = "{way}", address = "{address}" }}]
[[duty]]
role = "{role}"
contacts = ["{role}"]
start = 00:00:00
end = 00:00:00
"""

Ways = Callable[[int], Sequence[str]]
"""By which channels a basin's alerts go."""


def site_of(basins: int, rules: int, ways: Ways, *, smtp: int, snpp: int, hooks: int) -> str:
    """A site file; ``smtp``, ``snpp``, ``hooks``: ports of the servers on this machine."""
    parts = [_HEAD.format(smtp=smtp, snpp=snpp), *(_HOOK.format(name=name, hooks=hooks) for name in HOOKS)]
    parts += [_RULE.format(n=n, celsius=COLDEST + n) for n in range(rules)]
    ours = [f"bench-{n:02}" for n in range(rules)]
    for basin in range(basins):
        roles = {f"{way}-{basin}": way for way in ways(basin)}
        for role, way in roles.items():
            address = f"555{basin:04}" if way == "pager" else f"{role}@example.org"
            parts.append(_ROLE.format(role=role, way=way, address=address))
        parts.append(_BASIN.format(basin=basin, rules=ours, roles=list(roles)))
    return "".join(parts)
