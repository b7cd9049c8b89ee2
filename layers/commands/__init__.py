"""The verbs of ``python -m layers``: one file a verb, each with ``add`` and ``run``.

``add(parsers)`` declares the verb on an argparse sub-parser collection; ``run(arguments)``
returns the object that ``--json`` prints, or raises `MusterplotError`. ``say(answer)`` returns
the plain text printed without ``--json``.
"""
