"""Mutation-test the verdict: each small change of its code has to turn a test red.

All tests of `tests/judging` are collected once. Each mutant lives in a process forked from there, in which
the code of one function (or the tables of a module) is exchanged, and dies with the first test that fails.
Only tests that run the changed line are tried, those that killed before first. How to repeat it, and why
each survivor may live, is told in docs/mutation.md.

    python tools/mutants.py RESULT.json [--longest S] [--rows N] [--slow] [PATTERN ...]

What RESULT.json already calls killed is not tried again; PATTERN is a part of a mutant's name, such as
`verdict.` or `believed._number:`.
"""

import argparse
import ast
import json
import os
import signal
import sys
import time
import types
import warnings
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import timedelta
from hashlib import sha256
from importlib import import_module
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[1]
JUDGING = ROOT / "src" / "lightoff" / "judging"
MODULES = (
    *("compare", "verdict", "limit_gates", "evidence_gates", "believed", "weighing"),
    *("disputed", "resting", "unbelieved", "living_space", "expected", "joints", "sealing"),
)
TIMEOUT_S = 300
QUIET = ("-q", "-p", "no:cacheprovider", "-p", "no:unraisableexception", "-p", "no:warnings")
MOST_STEPS = 200_000  # a test that runs more is not traced to its end: it may run any line
LEFT_ALONE = ("annotation", "returns", "decorator_list", "args")  # of a definition

OTHER_OPERATOR: dict[type[ast.AST], type[ast.AST]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
    ast.And: ast.Or, ast.Or: ast.And,
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult,
    ast.BitOr: ast.BitAnd, ast.BitAnd: ast.BitOr,
}  # fmt: skip
OTHER_NAME = {"min": "max", "max": "min", "any": "all", "all": "any"}


@dataclass(frozen=True)
class Mutant:
    """One change: its name, its lines, and the changed code of its module (ready only until the next one)."""

    name: str
    module: types.ModuleType
    owner: str
    lines: frozenset[int]
    code: Callable[[], types.CodeType]


# --- Changes ----------------------------------------------------------------------------------------

Put = Callable[[Any], None]


def mutants_of(module: types.ModuleType) -> Iterator[Mutant]:
    """Every mutant of a module, one after the other: the tree is changed only while one is looked at."""
    path = str(module.__file__)
    tree = ast.parse(Path(path).read_text(encoding="utf-8"))
    seen: Counter[str] = Counter()

    def code() -> types.CodeType:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return compile(ast.fix_missing_locations(tree), path, "exec")

    for owner, part in parts_of(tree):
        for parent in nodes_of(part):
            for put, old, new in changes(parent):
                was = shown(parent, old)
                put(new)
                name = f"{module.__name__.rpartition('.')[2]}.{owner}: {was} => {shown(parent, new)}"
                seen[name] += 1
                number = f" #{seen[name]}" if seen[name] > 1 else ""
                yield Mutant(name + number, module, owner, lines_of(parent, old), code)
                put(old)


def parts_of(tree: ast.Module) -> Iterator[tuple[str, ast.AST]]:
    """Functions, methods and tables of a module, with their names."""
    for node in tree.body:
        if isinstance(node, ast.FunctionDef):
            yield node.name, node
        elif isinstance(node, ast.Assign | ast.AnnAssign):
            yield "table", node
        elif isinstance(node, ast.ClassDef):
            methods = (each for each in node.body if isinstance(each, ast.FunctionDef))
            yield from ((f"{node.name}.{each.name}", each) for each in methods)


def nodes_of(part: ast.AST) -> Iterator[ast.AST]:
    """Everything that is run: no docstring, no type, no assert that only tells the types."""
    yield part
    for name, value in ast.iter_fields(part):
        if name in LEFT_ALONE and isinstance(part, ast.FunctionDef | ast.AnnAssign | ast.Lambda):
            continue
        for each in value if isinstance(value, list) else [value]:
            says_nothing = isinstance(each, ast.Expr) and isinstance(each.value, ast.Constant)
            if isinstance(each, ast.AST) and not says_nothing and not isinstance(each, ast.Assert):
                yield from nodes_of(each)


def changes(parent: ast.AST) -> Iterator[tuple[Put, Any, Any]]:
    """What puts something in a place, what stands there, and what could stand there; None for nothing."""
    for name, value in ast.iter_fields(parent):
        if name in LEFT_ALONE and isinstance(parent, ast.FunctionDef | ast.AnnAssign | ast.Lambda):
            continue
        if isinstance(value, list):
            for index, each in enumerate(value):
                put = putting(parent, name, value, index)
                yield from ((put, each, new) for new in instead(each))
                if may_go(parent, name, value):
                    yield put, each, None
            if isinstance(parent, ast.Dict) and name == "keys":
                yield from entries_gone(parent)
        elif isinstance(value, ast.AST):
            put = putting(parent, name)
            if name == "test":
                yield from ((put, value, ast.Constant(each)) for each in (True, False))
            if isinstance(parent, ast.Return) and ast.unparse(value) != "None":
                yield put, value, ast.Constant(None)
            yield from ((put, value, new) for new in instead(value))


def putting(parent: ast.AST, name: str, held: list[Any] | None = None, index: int = 0) -> Put:
    def put(new: Any) -> None:
        if held is not None:
            new = [*held[:index], *([] if new is None else [new]), *held[index + 1 :]]
        setattr(parent, name, new)

    return put


def entries_gone(parent: ast.Dict) -> Iterator[tuple[Put, Any, Any]]:
    whole = parent.keys, parent.values

    def put(pair: tuple[list[Any], list[Any]]) -> None:
        parent.keys, parent.values = pair

    for index in range(len(parent.keys)):
        yield put, whole, tuple([*each[:index], *each[index + 1 :]] for each in whole)


def may_go(parent: ast.AST, name: str, held: list[Any]) -> bool:
    """Filters, words of a call and elements go one by one; of what has to have one, not the last."""
    if name in ("ifs", "keywords") or (name == "elts" and isinstance(getattr(parent, "ctx", None), ast.Load)):
        return True
    return len(held) > 1 and (name == "cases" or isinstance(parent, ast.Set))


def instead(node: Any) -> Iterator[ast.AST]:
    """Other nodes for this one."""
    if type(node) in OTHER_OPERATOR:
        yield OTHER_OPERATOR[type(node)]()
    match node:
        case ast.Expr(value=ast.Call() | ast.Yield() | ast.YieldFrom()) | ast.Raise() | ast.AugAssign():
            yield ast.Pass()
        case ast.Assign(targets=[ast.Subscript() | ast.Attribute()]):
            yield ast.Pass()
        case ast.Continue():
            yield from (ast.Pass(), ast.Break())
        case ast.BoolOp(values=parts) | ast.MatchOr(patterns=parts):
            for index in range(len(parts)):
                rest: list[Any] = [*parts[:index], *parts[index + 1 :]]
                whole: ast.AST = (
                    ast.BoolOp(node.op, rest) if isinstance(node, ast.BoolOp) else ast.MatchOr(rest)
                )
                yield rest[0] if len(rest) == 1 else whole
        case ast.UnaryOp(op=ast.Not() | ast.USub()):
            yield node.operand
        case ast.Name(id=name) if name in OTHER_NAME:
            yield ast.Name(OTHER_NAME[name], ast.Load())
        case ast.Constant(value=bool(value)):
            yield ast.Constant(not value)
        case ast.Constant(value=int(value) | float(value)):
            yield from (ast.Constant(value + 1), ast.Constant(value - 1))
        case ast.Constant(value=str(value)):
            yield ast.Constant(f"XX{value}")


def lines_of(parent: ast.AST, old: Any) -> frozenset[int]:
    """The lines of the changed code; a test that runs none of them cannot see the change."""
    node: Any = parent if isinstance(parent, ast.expr | ast.keyword | ast.pattern) else old
    return frozenset(range(node.lineno, node.end_lineno + 1)) if hasattr(node, "lineno") else frozenset()


def shown(parent: ast.AST, held: Any) -> str:
    """The smallest readable piece of code: the expression around a place, else what stands there."""
    if isinstance(parent, ast.comprehension):
        filters = "".join(f" if {ast.unparse(each)}" for each in parent.ifs)
        return f"for {ast.unparse(parent.target)} in {ast.unparse(parent.iter)}{filters}"
    whole = parent if isinstance(parent, ast.expr | ast.pattern | ast.keyword | ast.Return) else held
    text = "nothing" if whole is None else ast.unparse(whole)
    return " / ".join(line.strip() for line in text.splitlines())


# --- Planting ---------------------------------------------------------------------------------------


def plant(mutant: Mutant, code: types.CodeType) -> None:
    """Exchange the code in this process, wherever it was imported to."""
    for name, module in list(sys.modules.items()):
        for each in list(vars(module).values()) if name.startswith("lightoff.judging") else ():
            if hasattr(each, "cache_clear"):
                each.cache_clear()
    if mutant.owner == "table":
        exchange_tables(mutant.module, code)
        return
    live: Any = mutant.module
    for name in mutant.owner.split("."):
        live = vars(live)[name]
    live = live.fget if isinstance(live, property) else getattr(live, "__wrapped__", live)
    live.__code__ = next(each for each in codes_in(code) if each.co_qualname == mutant.owner)


def codes_in(code: types.CodeType) -> Iterator[types.CodeType]:
    for each in code.co_consts:
        if isinstance(each, types.CodeType):
            yield each
            yield from codes_in(each)


def exchange_tables(module: types.ModuleType, code: types.CodeType) -> None:
    scratch = types.ModuleType(module.__name__)
    exec(code, scratch.__dict__)
    plain = (tuple, frozenset, dict, int, float, str, timedelta)
    for name, old in list(vars(module).items()):
        new = vars(scratch).get(name)
        if name.startswith("__") or not isinstance(old, plain):
            continue
        if new != old:
            for other in list(sys.modules.values()):
                if getattr(other, "__dict__", {}).get(name) is old:
                    setattr(other, name, new)


# --- Trying -----------------------------------------------------------------------------------------


class Trial:
    """Runs the tests of one session against each mutant."""

    def __init__(self, options: argparse.Namespace) -> None:
        self.options = options
        self.path = Path(options.result)
        self.told: dict[str, Any] = json.loads(self.path.read_text()) if self.path.exists() else {}
        self.failed = ""
        self.took_s: Counter[str] = Counter()

    def pytest_runtest_logreport(self, report: Any) -> None:
        self.took_s[report.nodeid] += report.duration
        if report.failed:
            self.failed = report.nodeid

    def pytest_runtestloop(self, session: Any) -> bool:
        tests = self.tests_by_line(session.items)
        ends: dict[str, dict[str, str]] = self.told.setdefault("mutants", {})
        killers: dict[str, Counter[str]] = {"": Counter()}
        made = set()
        for module in (import_module(f"lightoff.judging.{name}") for name in MODULES):
            for mutant in mutants_of(module):
                made.add(mutant.name)
                chosen = not self.options.pattern or any(each in mutant.name for each in self.options.pattern)
                if not chosen or ends.get(mutant.name, {}).get("end") == "killed":
                    continue
                known = killers.setdefault(mutant.owner, Counter()), killers[""]
                end, by = self.try_one(mutant, in_order(tests(mutant), known))
                ends[mutant.name] = {"end": end, "by": by}
                if end == "killed":
                    for each in known:
                        each[by] += 1
                else:
                    say(f"{end}: {mutant.name}")
            self.keep()
            say(f"{module.__name__}: {Counter(ends[each]['end'] for each in made if each in ends)}")
        self.told["mutants"] = {name: end for name, end in ends.items() if name in made}
        self.keep()
        return True

    def keep(self) -> None:
        self.path.write_text(json.dumps(self.told, indent=0, ensure_ascii=False))

    def tests_by_line(self, items: list[Any]) -> Callable[[Mutant], list[Any]]:
        """For a mutant the tests, quick ones first, that run a line of it; of a table, of its module."""
        source = sha256(b"".join(path.read_bytes() for path in sorted(JUDGING.glob("*.py")))).hexdigest()
        if self.told.get("source") != source:
            self.told |= {"source": source, "tests": {}}
        tests: dict[str, Any] = self.told["tests"]
        new = [item for item in items if item.nodeid not in tests]
        if new:
            traced: dict[str, Any] = {}
            by, told = forked(lambda: (self.first_red(new, traced), (dict(self.took_s), traced)), 3600)
            if by:
                raise SystemExit(f"The tests are red before anything was changed: {by}")
            tests |= {item.nodeid: [told[0][item.nodeid], told[1][item.nodeid]] for item in new}
            self.keep()
        rows: Counter[str] = Counter()
        kept = []
        for item in sorted(items, key=lambda item: float(tests[item.nodeid][0])):
            rows[item.nodeid.partition("[")[0]] += 1
            few = rows[item.nodeid.partition("[")[0]] <= self.options.rows
            if few and tests[item.nodeid][0] <= self.options.longest:
                kept.append(item)
        took_s = sum(tests[item.nodeid][0] for item in kept)
        say(f"{len(kept)} of {len(items)} tests, {took_s:.0f} s while their lines were noted")
        runs = [(item, tests[item.nodeid][1]) for item in kept]

        def chosen(mutant: Mutant) -> list[Any]:
            name = Path(str(mutant.module.__file__)).stem
            any_line = mutant.owner == "table" or not mutant.lines
            return [
                item
                for item, run in runs
                if not run or (run.get(name) if any_line else mutant.lines.intersection(run.get(name, ())))
            ]

        return chosen

    def try_one(self, mutant: Mutant, items: list[Any]) -> tuple[str, str]:
        code = mutant.code()
        if not items:
            return "no test runs it", ""

        def run() -> tuple[str, Any]:
            try:
                plant(mutant, code)
            except Exception as error:  # noqa: BLE001 - a module that cannot be made is red at once
                return f"cannot be planted: {error!r}", None
            return self.first_red(items), None

        by, told = forked(run, TIMEOUT_S)
        if told == "died":
            return "killed", "out of time"
        return ("killed" if by else "survived"), by

    def first_red(self, items: list[Any], traced: dict[str, Any] | None = None) -> str:
        """The first test that fails, "" for none; `traced` takes the lines that each ran."""
        items[0].config.pluginmanager.unregister(name="terminalreporter")
        for item in items:
            lines: dict[str, set[int]] = {}
            tracer = None if traced is None else tracer_into(lines)
            sys.settrace(tracer)
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=None)
            lost = sys.gettrace() is not tracer  # a test that traces by itself: it may run any line
            sys.settrace(None)
            if traced is not None:
                traced[item.nodeid] = {} if lost else {name: sorted(each) for name, each in lines.items()}
            if self.failed:
                return self.failed
        return ""


def in_order(items: list[Any], known: tuple[Counter[str], ...]) -> list[Any]:
    """The tests that killed before come first."""
    hot = dict.fromkeys(name for each in known for name, _ in each.most_common(25))
    rank = {name: place for place, name in enumerate(hot)}
    return sorted(items, key=lambda item: rank.get(item.nodeid, len(rank)))


def tracer_into(lines: dict[str, set[int]]) -> Callable[[types.FrameType, str, Any], Any]:
    """Notes each line of the judgement that is run."""
    names: dict[str, str | None] = {}
    steps = 0

    def trace(frame: types.FrameType, event: str, _: Any) -> Any:
        nonlocal steps
        steps += 1
        if steps > MOST_STEPS:
            sys.settrace(None)
            return None
        file = frame.f_code.co_filename
        if file not in names:
            names[file] = Path(file).stem if Path(file).parent == JUDGING else None
        name = names[file]
        if name is None:
            return None
        lines.setdefault(name, set()).add(frame.f_lineno)
        return trace

    return trace


def forked(run: Callable[[], tuple[str, Any]], timeout_s: int) -> tuple[str, Any]:
    """What a child answers; "died" where it does not within its time."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        signal.signal(signal.SIGALRM, signal.SIG_DFL)
        signal.alarm(timeout_s)
        os.close(reading)
        try:
            answer = run()
        except BaseException as error:  # noqa: BLE001 - the parent has to hear of it
            answer = repr(error), None
        with os.fdopen(writing, "wb") as pipe:
            pipe.write(json.dumps(answer).encode())
        os._exit(0)
    os.close(writing)
    with os.fdopen(reading, "rb") as pipe:
        told = pipe.read()
    os.waitpid(child, 0)
    return tuple(json.loads(told)) if told else ("", "died")


def say(line: str) -> None:
    os.write(2, f"{time.strftime('%H:%M:%S')} {line}\n".encode())


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("result")
    parser.add_argument("--slow", action="store_true", help="also with the tests marked slow")
    parser.add_argument("--longest", type=float, default=600, metavar="S", help="no test longer than this")
    parser.add_argument("--rows", type=int, default=10_000, metavar="N", help="at most N rows of a test")
    parser.add_argument("pattern", nargs="*")
    options = parser.parse_intermixed_args()
    options.result = Path(options.result).resolve()
    os.chdir(ROOT)
    chosen = [] if options.slow else ["-m", "not slow"]
    pytest.main([*QUIET, *chosen, "tests/judging"], plugins=[Trial(options)])


if __name__ == "__main__":
    main()
