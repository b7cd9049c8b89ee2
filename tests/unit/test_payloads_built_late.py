"""A payload's check is built when it is first made: several threads may be the first at once.

Before 2.14 pydantic built it in each of them and one could meet another's half of it
(github.com/pydantic/pydantic, issue 13419); that is why requirements.txt asks for 2.14.
"""

from __future__ import annotations

import subprocess
import sys

from dashboard.server.processes import ROOT

PROGRAM = """
import sys, threading
from pydantic import ValidationError
from layers.catalogue import KINDS
sys.setswitchinterval(1e-6)
models = [kind.model for kind in KINDS.values()]
late = sum(not model.__pydantic_complete__ for model in models)
found, together = [], threading.Barrier(8)
def said(model):
    try:
        return repr(model.model_validate({"no such field": 1}))
    except ValidationError as refused:
        return str(refused)
    except Exception as fault:
        return repr(fault)
def first():
    together.wait()
    found.append([said(model) for model in models])
threads = [threading.Thread(target=first) for _ in range(8)]
for one in threads: one.start()
for one in threads: one.join()
built = [said(model) for model in models]
print(late > 100, len(found), all(one == built for one in found))
print(all("validation error" in words for words in built))
"""


def test_many_threads_may_be_the_first_to_check_a_payload() -> None:
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert done.stdout.split() == ["True", "8", "True", "True"]
