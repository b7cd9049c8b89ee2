"""An OpenID provider on loopback: discovery, keys, authorisation, tokens; and what lies it tells.

Written from OpenID Connect Core 1.0 and Discovery 1.0 (published standards). It logs in whoever
`claims` says, without asking, and signs with joserfc; `lie` names what is wrong with the token.
"""

from __future__ import annotations

import base64
import json
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from urllib.parse import parse_qs, urlencode, urlsplit

from joserfc import jwt
from joserfc.jwk import RSAKey

CLIENT, SECRET = "plot", "a secret between plot and provider"


@dataclass
class Provider:
    """A running provider; `claims` and `lie` are changed between log-ins."""

    claims: dict[str, Any] = field(default_factory=dict)
    lie: str = ""
    make: Callable[[dict[str, Any]], str] | None = None  # the token of right claims, made otherwise
    key: RSAKey = field(default_factory=lambda: RSAKey.generate_key(2048, {"kid": "one"}))
    stranger: RSAKey = field(default_factory=lambda: RSAKey.generate_key(2048, {"kid": "one"}))
    nonces: dict[str, str] = field(default_factory=dict)
    issued: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        provider = self

        class Handler(BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                provider.get(self)

            def do_POST(self) -> None:
                provider.post(self)

            def log_message(self, *_: object) -> None:
                """Say nothing."""

        self.server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.address = f"http://127.0.0.1:{self.server.server_port}"
        threading.Thread(target=self.server.serve_forever, daemon=True).start()

    def end(self) -> None:
        """Stop answering."""
        self.server.shutdown()
        self.server.server_close()

    def get(self, asked: BaseHTTPRequestHandler) -> None:
        """Answer discovery, keys and authorisation."""
        url = urlsplit(asked.path)
        answers: dict[str, Callable[[], object]] = {
            "/.well-known/openid-configuration": self._discovery,
            "/keys": lambda: {"keys": [self.key.as_dict(private=False)]},
        }
        if url.path == "/authorize":
            self._authorize(asked, {k: v[0] for k, v in parse_qs(url.query).items()})
        elif url.path in answers:
            _json(asked, answers[url.path]())
        else:
            asked.send_error(404)

    def _discovery(self) -> dict[str, object]:
        return {
            "issuer": self.address,
            "authorization_endpoint": f"{self.address}/authorize",
            "token_endpoint": f"{self.address}/token",
            "jwks_uri": f"{self.address}/keys",
            "response_types_supported": ["code"],
            "subject_types_supported": ["public"],
            "id_token_signing_alg_values_supported": ["RS256"],
        }

    def _authorize(self, asked: BaseHTTPRequestHandler, query: dict[str, str]) -> None:
        code = f"code{len(self.nonces)}"
        self.nonces[code] = query.get("nonce", "")
        asked.send_response(302)
        back = urlencode({"code": code, "state": query["state"]})
        asked.send_header("Location", f"{query['redirect_uri']}?{back}")
        asked.end_headers()

    def post(self, asked: BaseHTTPRequestHandler) -> None:
        """Answer the exchange of a code for a token."""
        body = asked.rfile.read(int(asked.headers["Content-Length"])).decode()
        code = parse_qs(body)["code"][0]
        basic = base64.b64decode(asked.headers.get("Authorization", "").removeprefix("Basic "))
        if not basic.decode().startswith(f"{CLIENT}:"):
            asked.send_error(401)
            return
        token = self._token(self.nonces.pop(code))
        self.issued.append(token)
        _json(asked, {"access_token": "x", "token_type": "Bearer", "id_token": token})

    def _token(self, nonce: str) -> str:
        now = int(time.time())
        claims = {"iss": self.address, "aud": CLIENT, "sub": "s1", "nonce": nonce, "iat": now,
                  "exp": now + 600, **self.claims}  # fmt: skip
        lies: dict[str, dict[str, object]] = {
            "issuer": {"iss": "http://127.0.0.1:1/"},
            "expired": {"iat": now - 7200, "exp": now - 3600},
            "audience": {"aud": "somebody else"},
            "nonce": {"nonce": "of another log-in"},
        }
        claims |= lies.get(self.lie, {})
        if self.make is not None:
            return self.make(claims)
        key = self.stranger if self.lie == "forged" else self.key
        token = jwt.encode({"alg": "RS256", "kid": "one"}, claims, key)
        if self.lie == "unsigned":
            head = base64.urlsafe_b64encode(b'{"alg":"none"}').rstrip(b"=").decode()
            token = f"{head}.{token.split('.')[1]}."
        return token


def _json(asked: BaseHTTPRequestHandler, value: object) -> None:
    body = json.dumps(value).encode()
    asked.send_response(200)
    asked.send_header("Content-Type", "application/json")
    asked.send_header("Content-Length", str(len(body)))
    asked.end_headers()
    asked.wfile.write(body)
