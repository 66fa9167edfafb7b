# ruff: noqa: E501 - a table of bytes
"""Whatever stands in the files, reading gives problems, never an exception."""

import random
import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchgalley.intake import read_site
from benchgalley.records.findings import Problem
from tests.intake.tree import BENCH, CARD, LANTERN, LANTERN_TRIALS, LOAD, PEBBLE, PEBBLE_LOG, PEBBLE_TRIALS, SITE, Tree

FILES = (SITE, BENCH, LOAD, CARD, LANTERN, LANTERN_TRIALS, PEBBLE, PEBBLE_TRIALS, PEBBLE_LOG)
TOKENS = [
    b"\x00", b"\xff", b"\xe9", b"\xef\xbb\xbf", b"\r", b"\n", b"\t", b",", b";", b'"', b"'", b":", b": ", b"- ", b"[", b"]", b"{", b"}",
    b"&a ", b"*a", b"!!x ", b"|", b">", b"---\n", b"#", b"%", b"1e999", b"nan", b"-", b"=1", b"\xe2\x80\xae", b"\xe2\x88\x92", b"../",
    b"null", b"~", b"true", b"0x1", b"1_0", b"(claim:x/y)", b"![](x)", b"\\", b"N/A", b"9" * 400, b"[" * 50, b" " * 30,
]  # fmt: skip


def check(problems: tuple[Problem, ...]) -> None:
    for problem in problems:
        assert problem.message and problem.where.line >= 1 and problem.where.column >= 1
        assert all(c.isprintable() for c in problem.message + problem.mend), problem


def mutate(data: bytes, rng: random.Random) -> bytes:
    out = bytearray(data)
    for _ in range(rng.randint(1, 4)):
        at, length = rng.randrange(len(out) + 1), rng.choice((0, 0, 1, 3, 40))
        kind = rng.randrange(4)
        if kind == 0:
            out[at : at + length] = rng.choice(TOKENS)
        elif kind == 1:
            out[at:at] = bytes(rng.randrange(256) for _ in range(rng.randint(1, 5)))
        elif kind == 2:
            del out[at : at + max(1, length)]
        else:
            start = rng.randrange(len(out) + 1)
            out[at:at] = out[start : start + max(1, length)]
    return bytes(out)


def run(seeds: range, tmp_path: Path) -> int:
    tree = Tree.copy(tmp_path)
    good = {file: (tree.root / file).read_bytes() for file in FILES}
    with_problems = 0
    for seed in seeds:
        rng = random.Random(seed)
        file = rng.choice(FILES)
        tree.write(file, mutate(good[file], rng))
        _, problems = read_site(tree.root)
        check(problems)
        with_problems += bool(problems)
        tree.write(file, good[file])
    assert tree.told() == []
    return with_problems


def test_mutations_of_a_good_site_give_problems_or_a_site(tmp_path: Path) -> None:
    found = run(range(300), tmp_path)
    print(f"{found} of 300 mutations gave problems")
    assert found > 150  # the mutations do harm; they are not all in comments and texts


@pytest.mark.slow
def test_many_mutations(tmp_path: Path) -> None:
    print(f"{run(range(1000, 11_000), tmp_path)} of 10000 mutations gave problems")


@given(file=st.sampled_from(FILES), data=st.binary(max_size=400))
@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_random_bytes_in_any_file(file: str, data: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        tree = Tree.copy(Path(folder)).write(file, data)
        _, problems = read_site(tree.root)
        check(problems)
