"""``python -m tests.audit``: known weaknesses in what is installed, by pip-audit.

Fails when an advisory fits a package and no reason is given below. Where no advisory can be
asked for, because the machine reaches no advisory service, that is said and nothing is claimed.
"""

from __future__ import annotations

import json
import subprocess
import sys

# advisory id -> why it does not touch this program; empty is best
LEFT: dict[str, str] = {}


def main() -> int:
    """Ask, print what was found and what could not be asked; return 1 when something is open."""
    asked = subprocess.run(
        [sys.executable, "-m", "pip_audit", "--progress-spinner", "off", "--format", "json"],
        capture_output=True, text=True, check=False, timeout=600,
    )  # fmt: skip
    try:
        packages = json.loads(asked.stdout)["dependencies"]
    except (ValueError, KeyError):
        print(f"no advisory could be asked for: {asked.stderr.strip()[-300:]}")
        return 0
    unasked = [package["name"] for package in packages if "skip_reason" in package]
    open_ones = [
        (package["name"], package["version"], found["id"])
        for package in packages
        for found in package.get("vulns", ())
        if found["id"] not in LEFT
    ]
    for name, version, advisory in open_ones:
        print(f"{name} {version}: {advisory}")
    print(
        f"{len(packages) - len(unasked)} packages asked for, {len(unasked)} could not be, "
        f"{len(open_ones)} open advisories"
    )
    return 1 if open_ones else 0


if __name__ == "__main__":
    raise SystemExit(main())
