"""Every number of physics carries its unit at the end of its name, or is a pure number by its name."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

PHYSICAL_ROOMS = ("physics",)
NUMBERS = {"float", "Real", "Array", "NDArray", "ArrayLike", "Uncertain"}
NO_QUANTITIES = {"Mapping", "dict", "Callable", "tuple", "bool_", "intp"}
UNIT = re.compile(
    r"_(?:k|pa|w|j|v|a|ohm|s|m|m2|m3|kg|mol|kg_s|m3_s|m2_s|pa_s|j_kg|j_mol|j_kg_k|j_mol_k|w_k|w_m2k"
    r"|kg_m3|mol_m3|mol_kg|kg_mol|m3_kg|kg_kg|mol_mol)$"
)
PURE = re.compile(r"(?:^|_)(?:fractions?|shares?|ratio|factor|exponent|count|weights|coverage)(?:_|$)")
SPECIES = {"co", "co2", "h2o", "n2_ar", "o2", "so2"}  # fields of Products, whose docstring tells the unit
COUNTS_OF_ATOMS = {"carbon", "hydrogen", "oxygen", "nitrogen", "argon", "sulphur"}  # likewise, of Atoms
# A reason beside each name that is neither a unit nor plainly a pure number.
ALLOWED = {
    "o2_half_width": "the half width of a share is a share",
    "co2_half_width": "the half width of a share is a share",
    "largest_co2_half_width": "the half width of a share is a share",
    "co2_agreement_half_width": "the half width of a share is a share",
    "water_per_dry_air": "moles per mole",
    "air_to_liquid": "kilograms per kilogram",
    "air_to_liquid_rated": "kilograms per kilogram",
    "discharge": "a coefficient from 0 to 1",
    "emissivity": "a share of a black body's",
    "ntu": "number of transfer units",
    "counterflow_effectiveness": "a share",
    "x": "the normal integral's argument, in standard deviations",
    "cumulative": "a probability",
    "log_cumulative": "the logarithm of a probability",
    "place": "logarithms",
    "slopes": "changes of a logarithm, each for one of a field of Atoms",
    "value": "a carrier: the unit is its figure's",
    "half_width": "a carrier: the unit is its figure's",
    "standard_uncertainty": "a carrier: the unit is its figure's",
    "low": "a bound of a ratio",
    "high": "a bound of a ratio",
}


def is_number(annotation: ast.expr | None) -> bool:
    """Whether an annotation is that of a number or array of a quantity, not a container or a mask."""
    if annotation is None:
        return False
    names = {getattr(node, "id", getattr(node, "attr", "")) for node in ast.walk(annotation)}
    return bool(names & NUMBERS) and not names & NO_QUANTITIES


def named_numbers(module: ast.Module) -> Iterator[tuple[str, str]]:
    """(name, where) of every number in a public signature, field or answer."""
    for node in ast.walk(module):
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            arguments = node.args
            for argument in (*arguments.posonlyargs, *arguments.args, *arguments.kwonlyargs):
                if is_number(argument.annotation):
                    yield argument.arg, f"{node.name}()"
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            for field in node.body:
                if isinstance(field, ast.AnnAssign) and is_number(field.annotation):
                    assert isinstance(field.target, ast.Name)
                    yield field.target.id, node.name
    for node in module.body:
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_") and is_number(node.returns):
            yield node.name, "its answer"


def has_unit(name: str) -> bool:
    return bool(UNIT.search(name) or PURE.search(name)) or name in {*ALLOWED, *SPECIES, *COUNTS_OF_ATOMS}


def test_the_rule_itself() -> None:
    assert has_unit("stack_temperature_k")
    assert has_unit("air_ratio_from_co2")
    assert not has_unit("stack_temperature")
    assert not has_unit("pressure_mbar")
    assert not has_unit("flow_rate")
    probe = ast.parse("def f(flow: float, *, names: dict[str, float]) -> int: ...")
    assert [name for name, _ in named_numbers(probe)] == ["flow"]


def test_every_physical_number_carries_its_unit(root: Path) -> None:
    seen, missing = 0, []
    for room in PHYSICAL_ROOMS:
        for path in sorted((root / "src" / "lightoff" / room).rglob("*.py")):
            if path.name == "uncertain.py":  # numbers of any unit travel through it
                continue
            for name, where in named_numbers(ast.parse(path.read_text(encoding="utf-8"))):
                seen += 1
                if not has_unit(name):
                    missing.append(f"{path.name}: {name} ({where})")
    assert seen > 100
    assert not missing
