"""A receiver of webhooks: a real HTTP server that keeps what it was sent and says what it is told to."""

import threading
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Self


@dataclass
class Post:
    """What came: path as on the request line, header fields by lower-case name."""

    path: str
    fields: dict[str, str]
    body: bytes


@dataclass
class Receiver:
    """status, fields, body: what it answers; came: released for each post once it is answered."""

    status: int = 202
    fields: dict[str, str] = field(default_factory=dict)
    body: bytes = b""
    posts: list[Post] = field(default_factory=list)
    came: threading.Semaphore = field(default_factory=lambda: threading.Semaphore(0))

    def __post_init__(self) -> None:
        receiver = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                length = int(self.headers.get("Content-Length", "0"))
                fields = {name.lower(): value for name, value in self.headers.items()}
                receiver.posts.append(Post(self.path, fields, self.rfile.read(length)))
                self.send_response(receiver.status)
                for name, value in receiver.fields.items():
                    self.send_header(name, value)
                self.send_header("Content-Length", str(len(receiver.body)))
                self.end_headers()
                self.wfile.write(receiver.body)
                receiver.came.release()

            def log_message(self, *_: object) -> None:
                pass

        self.server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self._thread = threading.Thread(target=self.server.serve_forever, args=(0.05,))

    @property
    def port(self) -> int:
        return int(self.server.server_address[1])

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.server.shutdown()
        self._thread.join()
        self.server.server_close()
