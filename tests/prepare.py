"""``python -m tests.prepare``: find or install what the tests need besides Python.

Chromium for the browser tests, nginx for those of the proxy, LibreOffice and pdftotext for the
brief. What is missing is installed by the system's packages where this account may; where it may
not, the one line to type is said, and the tests that need it are left out and counted as skipped
in the last line of ``pytest``. Where ``CI`` is set, what is missing and needed ends with status 1.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Container, Iterable
from dataclasses import dataclass

CI = "CI"


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """Something that tests need besides Python.

    Parameters
    ----------
    name : str
        As it is said.
    programs : tuple of str
        Any of these will do; where it is looked for beside the PATH is in `found`.
    package : str
        What Debian and its children call it.
    marks : str
        Which tests are left out without it, in words.
    must : bool
        Its absence fails where ``CI`` is set.
    marker, files : str, tuple of str
        The marker and the files of those tests.
    """

    name: str
    programs: tuple[str, ...]
    package: str
    marks: str
    must: bool = True
    marker: str = ""
    files: tuple[str, ...] = ()

    def marks_item(self, keywords: Container[str], file: str) -> bool:
        """Whether a test needs it: by its marker or by its file."""
        return (bool(self.marker) and self.marker in keywords) or file in self.files


CHROMIUM = Need(
    name="Chromium",
    programs=("chromium", "chromium-browser", "google-chrome", "google-chrome-stable"),
    package="chromium",
    marks="the tests marked browser",
    marker="browser",
)
NGINX = Need(
    name="nginx",
    programs=("nginx",),
    package="nginx-light",
    marks="the tests of the proxy",
    files=("test_proxy.py", "test_log_in_by_tls.py"),
)
OFFICE = Need(
    name="LibreOffice",
    programs=("soffice",),
    package="libreoffice-impress",
    marks="the test that opens the brief in an office",
    must=False,
)
READER = Need(
    name="pdftotext",
    programs=("pdftotext",),
    package="poppler-utils",
    marks="the test that opens the brief in an office",
    must=False,
)
NEEDS = (CHROMIUM, NGINX, OFFICE, READER)
BESIDE_PATH = ("/usr/sbin", "/usr/local/sbin", "/sbin")  # where a user's PATH does not lead


def found(need: Need) -> str | None:
    """Return the path of what is needed, None when it is not there."""
    path = os.pathsep.join((os.environ.get("PATH", ""), *BESIDE_PATH))
    return next((at for name in need.programs if (at := shutil.which(name, path=path))), None)


def missing(needs: Iterable[Need] = NEEDS) -> list[Need]:
    """Return what is not there."""
    return [need for need in needs if found(need) is None]


def installer() -> list[str] | None:
    """Return the words that install a package here, None where this account may not."""
    if shutil.which("apt-get") is None:
        return None
    words = ["apt-get", "install", "-y", "-q", "--no-install-recommends"]
    return words if hasattr(os, "geteuid") and os.geteuid() == 0 else None


def install(needs: Iterable[Need], run: Callable[[list[str]], int]) -> None:
    """Install what is needed where that may be done."""
    words = installer()
    packages = [need.package for need in needs]
    if words is not None and packages and run(["apt-get", "update", "-q"]) == 0:
        run([*words, *packages])


def _run(words: list[str]) -> int:
    try:
        return subprocess.run(words, check=False).returncode
    except OSError:
        return 1


def main() -> int:
    """Find, install, say what is left out; status 1 where ``CI`` is set and it must be there."""
    install([need for need in missing() if need.must], _run)
    left = missing()
    for need in left:
        sys.stderr.write(
            f"{need.name} is not here, and {need.marks} are left out; to have them: "
            f"sudo apt-get install {need.package}\n"
        )
    return 1 if os.environ.get(CI) and any(need.must for need in left) else 0


if __name__ == "__main__":
    sys.exit(main())
