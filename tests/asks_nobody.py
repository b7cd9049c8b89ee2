"""``python -m tests.asks_nobody FOLDER``: the program with a resolver that answers nothing.

Run in a network of its own that holds nothing but loopback (`unshare --net --mount`). A resolver
on loopback hears every name that is looked up, and answers none; what is sent to any address
outside has no way there and is counted by the system. The program is started by README's command
with the exercise, every page is opened, and a thousand sockets are tried from a foreign page while
its health is asked. What was seen is printed as JSON.
"""

from __future__ import annotations

import contextlib
import fcntl
import json
import socket
import struct
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from statistics import median
from urllib.request import urlopen

from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from streamlit.web.server.starlette.starlette_app_utils import generate_xsrf_token_string
from websockets.sync.client import connect

from dashboard.page_table import TABLE
from tests.browser.conftest import Server, start

ATTEMPTS = 1000
SIOCSIFFLAGS, IFF_UP, IFF_RUNNING = 0x8914, 0x1, 0x40


def loopback_up() -> None:
    """Switch loopback on; a new network begins with it off."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as any_:
        fcntl.ioctl(any_, SIOCSIFFLAGS, struct.pack("16sH14x", b"lo", IFF_UP | IFF_RUNNING))


class Resolver:
    """Hears who is looked up (RFC 1035, 4.1.2) and answers nothing."""

    def __init__(self, folder: Path) -> None:
        self.names: list[str] = []
        self._socket = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        self._socket.bind(("127.0.0.1", 53))
        threading.Thread(target=self._hear, daemon=True).start()
        told = folder / "resolv.conf"
        told.write_text("nameserver 127.0.0.1\noptions timeout:1 attempts:1\n")
        subprocess.run(["mount", "--bind", str(told), "/etc/resolv.conf"], check=True)

    def _hear(self) -> None:
        while True:
            asked = self._socket.recv(4096)[12:]
            parts = []
            while asked and asked[0]:
                parts.append(asked[1 : asked[0] + 1].decode("latin-1"))
                asked = asked[asked[0] + 1 :]
            self.names.append(".".join(parts))


def no_way() -> int:
    """Return how often something had no way out, as the system counts it (RFC 4293)."""
    heads, counts = (
        line.split()
        for line in Path("/proc/net/snmp").read_text().splitlines()
        if line.startswith("Ip:")
    )
    six = dict(line.split() for line in Path("/proc/net/snmp6").read_text().splitlines())
    return int(counts[heads.index("OutNoRoutes")]) + int(six.get("Ip6OutNoRoutes", 0))


def open_pages(server: Server) -> Iterator[str]:
    """Open every page as a browser does; yield each once it is whole."""
    host = server.address.removeprefix("http://")
    for link in TABLE:
        xsrf = generate_xsrf_token_string()
        ask = BackMsg()
        ask.rerun_script.page_name = link.address
        with connect(
            f"ws://{host}/_stcore/stream", origin=server.address, subprotocols=["streamlit", xsrf],
            additional_headers={"Cookie": f"_streamlit_xsrf={xsrf}"}, max_size=None, proxy=None,
            open_timeout=60,
        ) as page:  # fmt: skip
            page.send(ask.SerializeToString())
            said = ForwardMsg()
            while said.WhichOneof("type") != "script_finished":
                said.ParseFromString(page.recv(timeout=240))
        yield link.address


def refused(server: Server, number: int) -> bool:
    """Try a socket as a foreign page's script does; return whether it was refused."""
    host, port = server.address.removeprefix("http://").split(":")
    with socket.create_connection((host, int(port)), timeout=60) as one:
        one.sendall(
            f"GET /_stcore/stream HTTP/1.1\r\nHost: {host}:{port}\r\nUpgrade: websocket\r\n"
            f"Connection: Upgrade\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n"
            f"Sec-WebSocket-Version: 13\r\nOrigin: http://evil{number}.example\r\n\r\n".encode()
        )
        return one.recv(64).startswith(b"HTTP/1.1 403")


def health_s(server: Server) -> float:
    """Return how long the server takes to say that it lives."""
    began = time.monotonic()
    with urlopen(f"{server.address}/_stcore/health", timeout=60) as answer:
        assert answer.status == 200
    return time.monotonic() - began


def main(folder: Path) -> None:
    """Run it all and print what was seen."""
    loopback_up()
    resolver, before = Resolver(folder), no_way()
    server = start(folder)
    try:
        pages = list(open_pages(server))
        waits: list[float] = []
        with ThreadPoolExecutor(8) as many:
            tried = [many.submit(refused, server, number) for number in range(ATTEMPTS)]
            while not all(one.done() for one in tried):
                waits.append(health_s(server))
                time.sleep(0.02)
        refusals = sum(one.result() for one in tried)
    finally:
        server.end()
    names, sent = list(resolver.names), no_way() - before
    with contextlib.suppress(OSError):  # and that both would have been seen
        socket.getaddrinfo("control.example", 80)
    with contextlib.suppress(OSError):
        socket.create_connection(("198.51.100.1", 80), timeout=5)
    print(
        json.dumps(
            {
                "pages": pages,
                "names": names,
                "sent": sent,
                "refused": refusals,
                "health_median_s": median(waits),
                "health_worst_s": max(waits),
                "control": ["control.example" in resolver.names, no_way() - before > sent],
            }
        )
    )


if __name__ == "__main__":
    main(Path(sys.argv[1]))
