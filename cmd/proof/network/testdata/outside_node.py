"""A node in another language, from the protocol description alone.

usage: outside_node.py HOST PORT JOINCODE MESSAGES
"""
import asyncio
import base64
import glob
import hashlib
import json
import os
import socket
import struct
import sys

import websockets

HOST, PORT, CODE, MESSAGES = sys.argv[1], int(sys.argv[2]), sys.argv[3], sys.argv[4]
URL = f"ws://{HOST}:{PORT}/ws/node"


def check(what, ok, detail=""):
    print(("ok   " if ok else "FAIL ") + what + ("" if ok else f": {detail}"), flush=True)
    if not ok:
        sys.exit(1)


def documented(name, **changes):
    """A documented message, with fields of its payload changed."""
    with open(os.path.join(MESSAGES, name + ".json"), encoding="utf-8") as f:
        m = json.load(f)
    m[m["type"]].update(changes)
    return m


async def want(ws, kind):
    while True:
        m = json.loads(await asyncio.wait_for(ws.recv(), 5))
        if m["type"] == kind:
            return m[kind]


async def node():
    """Join, play, lose the connection, come back."""
    async with websockets.connect(URL) as ws:
        await ws.send(json.dumps(documented("hello", join=CODE)))
        w = await want(ws, "welcome")
        check("welcome", w["version"] == 1 and w["stored"] == 0 and len(w["token"]) >= 43, w)
        v = await want(ws, "view")
        check("view", v["phase"] == "idle" and v["say"], v)
        await ws.send(json.dumps(documented("ping", id=9, sent_s=3.25)))
        p = await want(ws, "pong")
        check("pong", p["id"] == 9 and p["sent_s"] == 3.25 and p["at_s"] > 0, p)
        for name in ("state", "track", "setting"):
            await ws.send(json.dumps(documented(name)))
        await ws.send(json.dumps({"type": "applause", "applause": {"loud": True}}))
        await ws.send(json.dumps(documented("reading", seq=1)))
        await ws.send(json.dumps(documented("reading-unsettled", seq=2)))
        while (await want(ws, "ack"))["stored"] < 2:
            pass
        check("acknowledged up to 2", True)
    again = documented("hello", token=w["token"])
    del again["hello"]["join"]
    async with websockets.connect(URL) as ws:
        await ws.send(json.dumps(again))
        w2 = await want(ws, "welcome")
        check("back by its token, told where it stood", w2["stored"] == 2 and w2["chair"] == w["chair"] and not w2.get("token"), w2)
        await ws.send(json.dumps(documented("reading", seq=2)))
        check("a repeat is acknowledged", (await want(ws, "ack"))["stored"] == 2)
    async with websockets.connect(URL) as ws:
        await ws.send(json.dumps(documented("hello", node="other", join="AAAAAA")))
        e = await want(ws, "error")
        check("wrong code", e["code"] == "wrong-code" and e["fatal"] and e["message"] and e["hint"], e)
        try:
            await asyncio.wait_for(ws.recv(), 5)
            check("closed after the refusal", False)
        except websockets.ConnectionClosed as c:
            check("closed with 4001 after the refusal", c.code == 4001, c)
    for headers, status in (({"Origin": "http://evil.example"}, 403), ({"Host": "evil.example"}, 421)):
        s = Raw(headers, expect=status)
        check(f"{headers} gets {status}", s.status == status, s.status)


class Raw:
    """A WebSocket on a bare socket (RFC 6455, sections 4 and 5). A header of
    None is left out."""

    def __init__(self, headers=None, expect=101, method="GET"):
        self.s = socket.create_connection((HOST, PORT), 5)
        self.s.settimeout(8)
        key = base64.b64encode(os.urandom(16)).decode()
        h = {"Host": f"{HOST}:{PORT}", "Upgrade": "websocket", "Connection": "Upgrade",
             "Sec-WebSocket-Version": "13", "Sec-WebSocket-Key": key, **(headers or {})}
        self.s.sendall((f"{method} /ws/node HTTP/1.1\r\n"
                        + "".join(f"{k}: {v}\r\n" for k, v in h.items() if v is not None) + "\r\n").encode())
        self.buf = b""
        while b"\r\n\r\n" not in self.buf:
            self.buf += self.s.recv(4096)
        head, self.buf = self.buf.split(b"\r\n\r\n", 1)
        self.status = int(head.split()[1])
        self.headers = {k.strip().lower(): v.strip() for k, v in (line.split(":", 1) for line in head.decode().split("\r\n")[1:])}
        if expect == 101:
            check("upgrade", self.status == 101, head)
            accept = base64.b64encode(hashlib.sha1((key + "258EAFA5-E914-47DA-95CA-C5AB0DC85B11").encode()).digest())
            check("Sec-WebSocket-Accept (4.2.2)", accept in head, head)

    def send(self, *args, **kwargs):
        self.s.sendall(self.frame(*args, **kwargs))

    @staticmethod
    def frame(opcode, data=b"", fin=True, mask=True, rsv=0):
        b = bytes([(0x80 if fin else 0) | rsv << 4 | opcode])
        n = len(data)
        m = 0x80 if mask else 0
        b += bytes([m | n]) if n < 126 else bytes([m | 126]) + struct.pack(">H", n) if n < 65536 else bytes([m | 127]) + struct.pack(">Q", n)
        if mask:
            key = os.urandom(4)
            b += key
            data = bytes(c ^ key[i % 4] for i, c in enumerate(data))
        return b + data

    def recv(self):
        def need(n):
            while len(self.buf) < n:
                got = self.s.recv(4096)
                if not got:
                    raise EOFError
                self.buf += got
            out, self.buf = self.buf[:n], self.buf[n:]
            return out
        first, second = need(2)
        n = second & 0x7F
        least = 0
        if n == 126:
            (n,), least = struct.unpack(">H", need(2)), 126
        elif n == 127:
            (n,), least = struct.unpack(">Q", need(8)), 1 << 16
        if second & 0x80 or first & 0x70 or n < least or first & 8 and not (first & 0x80 and n < 126):
            check("the hub sends no mask, no reserved bit, lengths in their shortest form, whole control frames (5.1, 5.2, 5.5)",
                  False, (first, second, n))
        return first & 0x0F, need(n)

    def text(self):
        while True:
            op, data = self.recv()
            if op == 1:
                return json.loads(data)

    def ended(self):
        try:
            self.recv()
            return False
        except (EOFError, ConnectionError):
            return True

    def close_code(self):
        try:
            while True:
                op, data = self.recv()
                if op == 8:
                    return struct.unpack(">H", data[:2])[0] if len(data) >= 2 else 1005
        except (EOFError, OSError):
            return 1006


def handshake():
    """What section 4.2.1 asks of a client, and what section 9.1 leaves to the server."""
    for what, headers in (
        ("no Upgrade", {"Upgrade": None}),
        ("Upgrade to something else", {"Upgrade": "h2c"}),
        ("no Connection: Upgrade", {"Connection": "keep-alive"}),
        ("no key", {"Sec-WebSocket-Key": None}),
        ("a key that is not 16 bytes", {"Sec-WebSocket-Key": base64.b64encode(b"short").decode()}),
        ("no version", {"Sec-WebSocket-Version": None}),
    ):
        s = Raw(headers, expect=400)
        check(f"{what} is refused (4.2.1)", 400 <= s.status < 500, s.status)
    s = Raw({"Sec-WebSocket-Version": "8"}, expect=400)
    check("another version is refused and the right one named (4.4)", 400 <= s.status < 500 and s.headers.get("sec-websocket-version") == "13", s.headers)
    s = Raw(method="POST", expect=405)
    check("only GET (4.1)", 400 <= s.status < 500, s.status)
    s = Raw({"Connection": "keep-alive, upgrade", "Upgrade": "WebSocket"})
    check("lists and other letter cases (4.2.1)", s.status == 101)
    s = Raw({"Sec-WebSocket-Extensions": "permessage-deflate; client_max_window_bits", "Sec-WebSocket-Protocol": "chat, other"})
    check("no extension and no subprotocol is taken (4.2.2, 9.1)",
          "sec-websocket-extensions" not in s.headers and "sec-websocket-protocol" not in s.headers, s.headers)


def framing():
    count = 0  # a laptop of its own each time: the code does not make anybody one that has a token

    def joined():
        nonlocal count
        count += 1
        hello = json.dumps(documented("hello", node=f"raw-{count}", chair=f"Raw {count}", join=CODE)).encode()
        s = Raw()
        s.send(1, hello[:10], fin=False)  # fragments, with a control frame between (5.4)
        s.send(9, b"between")
        s.send(0, hello[10:])
        return s

    s = joined()
    op, data = s.recv()
    check("pong with the ping's payload (5.5.3)", op == 10 and data == b"between", (op, data))
    check("fragments are joined (5.4)", s.text()["type"] == "welcome")
    s.send(8, struct.pack(">H", 1000))
    s.send(1, json.dumps(documented("ping")).encode())
    check("a close is answered in kind (5.5.1)", s.close_code() == 1000)
    check("after it nothing comes and the hub hangs up (5.5.1, 7.1.1)", s.ended())

    s = Raw()
    named = json.dumps(documented("hello", node="raw-named", join=CODE, chair="Jörg"), ensure_ascii=False).encode()
    middle = named.index("ö".encode()) + 1
    s.send(1, b"", fin=False)
    s.send(0, named[:middle], fin=False)
    s.send(10, b"nobody asked")
    s.send(0, b"", fin=False)
    s.send(0, named[middle:])
    check("empty fragments, and one that ends within a letter (5.4, 5.6)", s.text()["type"] == "welcome")
    ping = Raw.frame(1, json.dumps(documented("ping", id=5)).encode())
    for byte in ping[:-1]:
        s.s.sendall(bytes([byte]))
    s.s.sendall(ping[-1:] + Raw.frame(9, b"x" * 125) + Raw.frame(9, b""))
    got = []
    while len(got) < 3:
        op, data = s.recv()
        if op == 10 or op == 1 and json.loads(data)["type"] == "pong":
            got.append((op, len(data)) if op == 10 else (op, json.loads(data)["pong"]["id"]))
    check("a frame byte by byte, then two at once; pings of 125 bytes and of none (5.2, 5.5.2)",
          (1, 5) in got and [g for g in got if g[0] == 10] == [(10, 125), (10, 0)], got)

    close = lambda code, why=b"": dict(opcode=8, data=struct.pack(">H", code) + why)
    for what, frames, want_codes in (
        ("unmasked frame (5.1)", [dict(opcode=1, data=b"{}", mask=False)], (1002,)),
        ("reserved bit 1 (5.2)", [dict(opcode=1, data=b"{}", rsv=4)], (1002,)),
        ("reserved bit 3 (5.2)", [dict(opcode=1, data=b"{}", rsv=1)], (1002,)),
        ("reserved bit of a control frame (5.2)", [dict(opcode=9, data=b"", rsv=2)], (1002,)),
        ("reserved opcode 3 (5.2)", [dict(opcode=3, data=b"{}")], (1002,)),
        ("reserved opcode 15 (5.2)", [dict(opcode=15, data=b"")], (1002,)),
        ("fragmented control frame (5.4)", [dict(opcode=9, data=b"", fin=False)], (1002,)),
        ("control frame of 126 bytes (5.5)", [dict(opcode=9, data=b"x" * 126)], (1002,)),
        ("continuation of nothing (5.4)", [dict(opcode=0, data=b"x")], (1002,)),
        ("a message within another (5.4)", [dict(opcode=1, data=b"{", fin=False), dict(opcode=1, data=b"}")], (1002,)),
        # The library takes it for a close without code, and ends all the same.
        ("close of one byte (5.5.1)", [dict(opcode=8, data=b"\x03")], (1002, 1005)),
        ("close with 999 (7.4.2)", [close(999)], (1002,)),
        ("close with 1005, never on the wire (7.4.1)", [close(1005)], (1002,)),
        ("close with 1006, never on the wire (7.4.1)", [close(1006)], (1002,)),
        ("close with 1015, never on the wire (7.4.1)", [close(1015)], (1002,)),
        ("close with 5000 (7.4.2)", [close(5000)], (1002,)),
        ("close for a reason that is no UTF-8 (5.5.1, 8.1)", [close(1000, b"\xff")], (1002, 1007)),
        ("close with 4999, a private code (7.4.2)", [close(4999)], (4999,)),
        ("close without code (5.5.1)", [dict(opcode=8)], (1000, 1005)),
        ("text that is no UTF-8 (8.1)", [dict(opcode=1, data=b"\xff\xfe")], (1007,)),
        ("text that ends within a letter (8.1)", [dict(opcode=1, data=b'"\xc3', fin=False), dict(opcode=0, data=b'"')], (1007,)),
        ("an encoded surrogate (8.1; RFC 3629, 3)", [dict(opcode=1, data=b'"\xed\xa0\x80"')], (1007,)),
        ("binary", [dict(opcode=2, data=b"{}")], (1003,)),
        ("too large", [dict(opcode=1, data=b" " * 40000)], (1009,)),
        ("too large in fragments", [dict(opcode=1, data=b" " * 30000, fin=False), dict(opcode=0, data=b" " * 30000)], (1009,)),
    ):
        s = joined()
        while s.text()["type"] != "welcome":
            pass
        s.s.sendall(b"".join(Raw.frame(**f) for f in frames))
        code = s.close_code()
        check(f"{what} is closed with {code}", code in want_codes, want_codes)
    s = joined()
    s.s.sendall(b"\x81\xff" + struct.pack(">Q", 1 << 63) + b"mask")
    code = s.close_code()
    # The library hangs up without a word, which 7.1.7 allows.
    check(f"a length with the highest bit is closed with {code} (5.2)", code in (1002, 1009, 1006), code)


names = {os.path.basename(p) for p in glob.glob(os.path.join(MESSAGES, "*.json"))}
check("documented messages", len(names) >= 13, names)
asyncio.run(node())
handshake()
framing()
print("all checks hold")
