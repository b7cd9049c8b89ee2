"""A rule for `lint-imports` that needs no change for a new layer.

A layer's package is any that the catalogue imports and that lies above the contract. It knows
the contract and what lies below it, and neither another layer nor anything above.
"""

from __future__ import annotations

from grimp import ImportGraph
from importlinter import Contract, ContractCheck, output

CATALOGUE = "layers.catalogue"
BELOW = ("layers.contract", "layers.journal", "layers.earth")


def layer_packages(graph: ImportGraph) -> set[str]:
    """Return the packages of the layers, as the catalogue imports them."""
    imported = graph.find_modules_directly_imported_by(CATALOGUE)
    packages = {".".join(name.split(".")[:2]) for name in imported}
    return {name for name in packages if name.startswith("layers.") and name not in BELOW}


class LayersApart(Contract):  # type: ignore[misc]  # the library has no types
    """Layers know neither each other nor what lies above them."""

    type_name = "layers_apart"

    def check(self, graph: ImportGraph, verbose: bool) -> ContractCheck:
        """Find every import of a layer that goes beside or upwards."""
        packages = layer_packages(graph)
        allowed = {*BELOW}
        others = {name for name in graph.find_children("layers") if name not in allowed}
        wrong = []
        for package in sorted(packages):
            own = {package, *graph.find_descendants(package)}
            for module in sorted(own):
                for imported in sorted(graph.find_modules_directly_imported_by(module)):
                    top = ".".join(imported.split(".")[:2])
                    if imported not in own and (top in others or top.split(".")[0] == "dashboard"):
                        wrong.append(f"{module} imports {imported}")
        return ContractCheck(kept=not wrong, metadata={"wrong": wrong})

    def render_broken_contract(self, check: ContractCheck) -> None:
        """Say which."""
        for line in check.metadata["wrong"]:
            output.print_error(line)
