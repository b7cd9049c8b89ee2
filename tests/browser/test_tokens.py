"""Fifty-nine tokens that are not right, against the running server: none lets anybody write.

Kinds after RFC 7515 (signatures), 7516 (encryption), 7519 (claims), 8725 (best practice, with the
attacks it names) and OpenID Connect Core 1.0 section 3.1.3.7. No browser is needed: the log-in is
three requests, and who somebody is, is asked over the plot's own socket.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import json
import time
from collections.abc import Callable, Iterator
from typing import Any

import httpx
import pytest
from joserfc import jwe, jwt
from joserfc.jwk import ECKey, OctKey, RSAKey
from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.web.server.starlette.starlette_app_utils import generate_xsrf_token_string
from websockets.sync.client import connect

from tests.browser.conftest import Server, free_port, start
from tests.browser.provider import CLIENT, SECRET, Provider

pytestmark = [pytest.mark.servers]

COOKIE, COOKIE_SECRET = "_streamlit_user", "0123456789abcdef" * 3
WATCH = {"name": "First Watch", "email": "first.watch@example", "email_verified": True}
Claims = dict[str, Any]
STRANGER = RSAKey.generate_key(2048, {"kid": "one"})
CURVE = ECKey.generate_key("P-256", {"kid": "one"})


@pytest.fixture(scope="module")
def provider() -> Iterator[Provider]:
    made = Provider()
    made.claims = WATCH
    yield made
    made.end()


@pytest.fixture(scope="module")
def guarded(provider: Provider, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    folder, port = tmp_path_factory.mktemp("tokens"), free_port()
    (folder / "secrets.toml").write_text(
        f"""[auth]
redirect_uri = "http://127.0.0.1:{port}/oauth2callback"
cookie_secret = "{COOKIE_SECRET}"
client_id = "{CLIENT}"
client_secret = "{SECRET}"
server_metadata_url = "{provider.address}/.well-known/openid-configuration"
watch_emails = ["first.watch@example"]
watch_groups = ["rescue-watch"]
"""
    )
    running = start(folder, "--empty", "--exercise", "TOKENS", port=port)
    yield running
    running.end()


def asked_for(one: httpx.Client) -> str:
    """Begin a log-in as the page's button does; return the provider's answer, an address here."""
    told = {"provider": "default", "exp": int(time.time()) + 60}
    asked = jwt.encode({"alg": "HS256"}, told, OctKey.import_key(COOKIE_SECRET))
    to = one.get("/auth/login", params={"provider": asked})
    return str(httpx.get(to.headers["location"], timeout=60).headers["location"])


def log_in(server: Server) -> dict[str, str]:
    """Log in as a browser does; return its cookies."""
    with httpx.Client(base_url=server.address, timeout=60) as one:
        one.get(asked_for(one))
        return dict(one.cookies)


def bring(server: Server, answer: str) -> dict[str, str]:
    """Bring a provider's answer in a browser that did not ask for it; return its cookies."""
    with httpx.Client(base_url=server.address, timeout=60) as stranger:
        stranger.get(answer)
        return dict(stranger.cookies)


def role(server: Server, cookies: dict[str, str]) -> str:
    """Ask a page over the plot's own socket who somebody is."""
    xsrf = generate_xsrf_token_string()
    sent = "; ".join(
        f"{name}={told}" for name, told in {**cookies, "_streamlit_xsrf": xsrf}.items()
    )
    host = server.address.removeprefix("http://")
    ask = BackMsg()
    ask.rerun_script.page_name = "log"
    with connect(
        f"ws://{host}/_stcore/stream", origin=server.address, additional_headers={"Cookie": sent},
        subprotocols=["streamlit", xsrf], max_size=None, proxy=None, open_timeout=60,
    ) as page:  # fmt: skip
        page.send(ask.SerializeToString())
        while True:
            said = page.recv(timeout=60)
            assert isinstance(said, bytes)
            for word in (b"(watch)", b"reading only"):
                if word in said:
                    return word.decode().strip("()")


def text(claims: Any) -> str:
    raw = claims if isinstance(claims, bytes) else json.dumps(claims).encode()
    return base64.urlsafe_b64encode(raw).rstrip(b"=").decode()


Makes = Callable[[Provider, Claims], str]


def signed(head: Claims | None = None, key: Any = None, **other: Any) -> Makes:
    """A token by the provider's key, or another one, with other claims; None leaves a claim out."""

    def made(provider: Provider, claims: Claims) -> str:
        told = {name: claim for name, claim in {**claims, **other}.items() if claim is not None}
        with_key = key or provider.key
        if head is not None or key is not None:
            return jwt.encode({"alg": "RS256", "kid": "one", **(head or {})}, told, with_key,
                              algorithms=["RS256", "PS256", "ES256", "HS256"])  # fmt: skip
        return right(provider, told)

    return made


def right(provider: Provider, claims: Any) -> str:
    """A rightly signed token with any bytes or claims in it, also such as no library writes."""
    from cryptography.hazmat.primitives.asymmetric import padding
    from cryptography.hazmat.primitives.hashes import SHA256

    body = f"{text({'alg': 'RS256', 'kid': 'one'})}.{text(claims)}"
    mark = provider.key.private_key.sign(body.encode(), padding.PKCS1v15(), SHA256())
    return f"{body}.{text(mark)}"


def with_head(head: Claims, secret: bytes = b"") -> Makes:
    """A token with a head of the forger's and a keyed hash beneath it."""

    def made(_: Provider, claims: Claims) -> str:
        body = f"{text(head)}.{text(claims)}"
        return f"{body}.{text(hmac.digest(secret, body.encode(), hashlib.sha256))}"

    return made


def cut(how: Callable[[str], str]) -> Makes:
    return lambda provider, claims: how(right(provider, claims))


def encrypted(_: Provider, claims: Claims) -> str:
    key = OctKey.import_key(hashlib.sha256(SECRET.encode()).digest())
    return jwe.encrypt_compact({"alg": "dir", "enc": "A256GCM", "cty": "JWT"},
                               text(claims).encode(), key)  # fmt: skip


def raw(**other: str) -> Makes:
    """Rightly signed claims with JSON in them that no library writes."""

    def made(provider: Provider, claims: Claims) -> str:
        body = json.dumps({name: one for name, one in claims.items() if name not in other})
        more = "".join(f', "{name}": {one}' for name, one in other.items())
        return right(provider, f"{body[:-1]}{more}}}".encode())

    return made


def general(provider: Provider, claims: Claims) -> str:
    head, body, mark = right(provider, claims).split(".")
    return json.dumps({"payload": body, "signatures": [{"protected": head, "signature": mark}]})


HERE = {"kid": "one", "alg": "HS256"}
TOKENS: dict[str, Makes] = {
    # keys and algorithms (RFC 8725 2.1, 2.2, 3.1)
    "keys of the forger's address": signed({"jku": "http://127.0.0.1:1/keys"}, STRANGER),
    "a certificate's address": signed({"x5u": "http://127.0.0.1:1/x"}, STRANGER),
    "a certificate brought along": signed({"x5c": ["MIIB"]}, STRANGER),
    "another key, with a salt": signed({"alg": "PS256"}, STRANGER),
    "another key, on a curve": signed({"alg": "ES256"}, CURVE),
    "a signature of zeros on a curve": lambda _, claims: (
        f"{text({'alg': 'ES256', 'kid': 'one'})}.{text(claims)}.{text(bytes(64))}"),
    "an empty secret": with_head(HERE),
    "a key's name that is a path": with_head({"alg": "HS256", "kid": "../../dev/null"}),
    "a key's name that is a question": with_head({"alg": "HS256", "kid": "x' UNION SELECT '"}),
    "no algorithm": with_head({"kid": "one"}),
    "an algorithm that is a list": with_head({"alg": ["RS256"], "kid": "one"}),
    "an algorithm in small letters": with_head({"alg": "rs256", "kid": "one"}),
    "none in a list of two": with_head({"alg": "none,RS256"}),
    "the key's thumbprint as a secret": lambda provider, claims: with_head(
        HERE, provider.key.thumbprint().encode())(provider, claims),
    "the modulus as a secret": lambda provider, claims: with_head(
        HERE, str(provider.key.as_dict(private=False)["n"]).encode())(provider, claims),
    # heads that change what is signed (RFC 7515 4.1.11, RFC 7797)
    "a head that must be understood": with_head({**HERE, "crit": ["beyond"], "beyond": 1}),
    "not in letters of 64": with_head({**HERE, "b64": False, "crit": ["b64"]}),
    "packed": with_head({**HERE, "zip": "DEF"}),
    # shapes
    "two parts": cut(lambda token: token.rpartition(".")[0]),
    "four parts": cut(lambda token: f"{token}.x"),
    "signature of another": cut(lambda token: f"{token[:-40]}{token[-20:]}{token[-40:-20]}"),
    "head twice": cut(lambda token: f"{token.split('.')[0]}.{token}"),
    "nothing": lambda *_: "",
    "only dots": lambda *_: "..",
    "in a list": lambda provider, claims: json.dumps([right(provider, claims)]),
    "many signatures": general,
    "encrypted with the client's secret": encrypted,
    "no claims but a list": lambda provider, claims: right(provider, [claims]),
    "no claims but a word": lambda provider, _: right(provider, b'"first.watch@example"'),
    "claims that are no JSON": lambda provider, _: right(provider, b"{'email': 1}"),
    # claims (OpenID Connect Core 3.1.3.7; RFC 7519 4.1)
    "expired a minute past any grace": signed(exp=int(time.time()) - 1000),
    "expires as words": signed(exp="2999-01-01T00:00:00Z"),
    "expires never": raw(exp="Infinity"),
    "expires not a number": raw(exp="NaN"),
    "expires true": raw(exp="true"),
    "expires before 1970": signed(exp=-1),
    "not before as words": signed(nbf="tomorrow"),
    "issuer with a slash": lambda provider, claims: signed(iss=f"{provider.address}/")(
        provider, claims),
    "issuer in a list": lambda provider, claims: signed(iss=[provider.address])(provider, claims),
    "issuer with a page behind": lambda provider, claims: signed(
        iss=f"{provider.address}#x")(provider, claims),
    "audience of none": signed(aud=[]),
    "audience in capitals": signed(aud=CLIENT.upper()),
    "audience that begins so": signed(aud=f"{CLIENT}-other"),
    "audience as an object": signed(aud={CLIENT: True}),
    "nonce empty": signed(nonce=""),
    "nonce null": raw(nonce="null"),
    "nonce in a list": lambda provider, claims: signed(nonce=[claims["nonce"]])(provider, claims),
    # rightly signed by the provider: who is not named reads
    "made in twelve hours": signed(iat=int(time.time()) + 12 * 3600),
    "made when, as words": signed(iat="now"),
    "made when, not a number": raw(iat="NaN"),
    "made true": raw(iat="true"),
    "e-mail with a blank behind": signed(email="first.watch@example "),
    "e-mail with a nought in it": signed(email="first.watch@example\x00.evil"),
    "e-mail as an object": signed(email={"first.watch@example": 1}),
    "verified by a word": signed(email_verified="yes"),
    "verified by a list": signed(email_verified=[True]),
    "groups with a blank": signed(email="x@example", groups=["rescue-watch "]),
    "groups as an object": signed(email="x@example", groups={"rescue-watch": True}),
    "a role it gives itself": signed(email="x@example", role="watch", via="direct"),
}  # fmt: skip


def test_the_right_token_is_let_in_so_that_the_others_are_refused_for_what_they_are(
    guarded: Server, provider: Provider
) -> None:
    provider.make = None
    assert role(guarded, log_in(guarded)) == "watch"


SHORT = ("audience of none",
         "keys of the forger's address", "the key's thumbprint as a secret", "four parts",
         "claims that are no JSON", "expires not a number", "audience that begins so",
         "made true", "groups as an object")  # fmt: skip


@pytest.mark.parametrize(
    "names",
    [SHORT, pytest.param(tuple(TOKENS), marks=(pytest.mark.long, pytest.mark.timeout(1200)))],
    ids=["short", "all"],
)
def test_tokens_that_are_not_right_let_nobody_write(
    guarded: Server, provider: Provider, names: tuple[str, ...]
) -> None:
    let_in, before = [], len(provider.issued)
    for name, make in ((name, TOKENS[name]) for name in names):
        provider.make = lambda claims, make=make: make(provider, claims)
        cookies = log_in(guarded)
        if cookies.get(COOKIE) and role(guarded, cookies) != "reading only":
            let_in.append(name)
    provider.make = None
    assert not let_in
    assert len(provider.issued) - before == len(names)  # each was made and handed over


def test_a_code_or_an_answer_used_twice_logs_nobody_in(guarded: Server) -> None:
    with httpx.Client(base_url=guarded.address, timeout=60) as one:
        answer = asked_for(one)
        assert COOKIE not in bring(guarded, answer)
        one.get(answer)
        assert role(guarded, dict(one.cookies)) == "watch"
    assert COOKIE not in bring(guarded, answer)


def test_a_stolen_cookie_reads_after_log_out_however_it_is_spelt(guarded: Server) -> None:
    stolen = log_in(guarded)
    assert role(guarded, stolen) == "watch"
    with httpx.Client(base_url=guarded.address, timeout=60, cookies=stolen) as one:
        one.get("/auth/logout")
    cookie = stolen[COOKIE]
    for sent in (stolen, {COOKIE: f"{cookie}="}, {COOKIE: f"{cookie[:-3]}!{cookie[-3:]}"},
                 {**stolen, f"{COOKIE}_9": "beside it"}):  # fmt: skip
        assert role(guarded, sent) == "reading only"
