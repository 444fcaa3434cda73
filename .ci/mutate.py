"""Change a module one operator or number at a time, and list the changes that its tests do not notice.

    python .ci/mutate.py screening/kernels/slope.py tests/kernels/test_slope.py --seconds 300

The module is changed in a copy of the repository; kernels run with the compiler off.
"""

from __future__ import annotations

import argparse
import ast
import copy
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

_SWAPS: dict[type[ast.AST], type[ast.AST]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.FloorDiv: ast.Mult,
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.And: ast.Or, ast.Or: ast.And, ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd,
}  # fmt: skip


def mutants(source: str) -> Iterator[tuple[int, str, str]]:
    """Give line, words and text of every changed module; annotations and docstrings stay."""
    tree = ast.parse(source)
    skipped = {id(part) for node in ast.walk(tree) for hint in _hints(node) for part in ast.walk(hint)}
    nodes = [node for node in ast.walk(tree) if id(node) not in skipped]
    for place, node in enumerate(nodes):
        changed = copy.deepcopy(tree)
        kept = {id(part) for item in ast.walk(changed) for hint in _hints(item) for part in ast.walk(hint)}
        twin = [item for item in ast.walk(changed) if id(item) not in kept][place]
        before = ast.unparse(node) if isinstance(node, ast.expr | ast.AugAssign) else ""
        if isinstance(twin, ast.BinOp | ast.AugAssign | ast.BoolOp) and type(twin.op) in _SWAPS:
            twin.op = _SWAPS[type(twin.op)]()  # type: ignore[assignment]
        elif isinstance(twin, ast.Compare) and type(twin.ops[0]) in _SWAPS:
            twin.ops[0] = _SWAPS[type(twin.ops[0])]()  # type: ignore[call-overload]
        elif isinstance(twin, ast.Constant) and type(twin.value) in (int, float):
            twin.value = twin.value + 1
        else:
            continue
        yield getattr(node, "lineno", 0), f"{before}  ->  {ast.unparse(twin)}", ast.unparse(changed)


def _hints(node: ast.AST) -> list[ast.AST]:
    if isinstance(node, ast.FunctionDef):
        parts = [arg.annotation for arg in (*node.args.args, *node.args.kwonlyargs)]
        return [part for part in (*parts, node.returns, *node.decorator_list) if part is not None]
    return [node.annotation] if isinstance(node, ast.AnnAssign) else []


def main() -> None:
    """Try mutants in random order until the time is up."""
    parser = argparse.ArgumentParser()
    parser.add_argument("module", type=Path)
    parser.add_argument("tests", nargs="+")
    parser.add_argument("--seconds", type=float, default=300.0)
    given = parser.parse_args()
    environment = os.environ | {"NUMBA_DISABLE_JIT": "1", "PYTHONDONTWRITEBYTECODE": "1"}
    with tempfile.TemporaryDirectory() as folder:
        for part in ("screening", "tests", "data_samples", "pyproject.toml"):
            copier = shutil.copytree if Path(part).is_dir() else shutil.copy
            copier(part, Path(folder) / part)
        command = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", *given.tests]

        def is_noticed() -> bool:
            try:
                done = subprocess.run(
                    command, cwd=folder, env=environment, capture_output=True, check=False, timeout=90
                )
            except subprocess.TimeoutExpired:  # a change may make a loop endless
                return True
            return done.returncode != 0

        if is_noticed():
            sys.exit("the tests fail without any change")
        found = list(mutants(given.module.read_text(encoding="utf-8")))
        random.Random(5).shuffle(found)
        until, n_tried, survivors = time.monotonic() + given.seconds, 0, []
        for line, words, text in found:
            if time.monotonic() > until:
                break
            (Path(folder) / given.module).write_text(text, encoding="utf-8")
            n_tried += 1
            if not is_noticed():
                survivors.append(f"line {line}: {words}")
    print(f"{given.module}: {n_tried} of {len(found)} changes tried, {len(survivors)} not noticed")
    print("\n".join(survivors))


if __name__ == "__main__":
    main()
