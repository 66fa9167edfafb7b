"""Cells read in bulk against the language's own reading of the same text, bit for bit."""

import random

import numpy as np
import pytest

from benchgalley.intake.log_cells import LONGEST_NUMBER, cells_of, numbers, texts


def column(cells: list[str], decimal: str = ".", line_end: str = "\n") -> list[float] | None:
    data = "".join(f"9|{cell}|z{line_end}" for cell in cells).encode("latin-1")
    found = cells_of(data, b"|", 3, 40)
    assert found is not None and found.rows == len(cells)
    values = numbers(found, 1, decimal)
    return None if values is None else values.tolist()


def written(rng: random.Random, decimals: int) -> str:
    whole = str(rng.randrange(10 ** rng.randrange(1, 15 - decimals)))
    return f"{whole}.{rng.randrange(10**decimals):0{decimals}d}" if decimals else whole


@pytest.mark.parametrize("seed", range(40))
def test_numbers_written_alike(seed: int) -> None:
    rng = random.Random(seed)
    cells = [written(rng, seed % 8) for _ in range(200)]
    assert column(cells) == [float(cell) for cell in cells]
    assert column([cell.replace(".", ",") for cell in cells], ",", "\r\n") == [float(cell) for cell in cells]


@pytest.mark.parametrize("seed", range(40))
def test_numbers_with_signs_blanks_and_points_at_different_places(seed: int) -> None:
    rng = random.Random(seed)
    cells = [
        rng.choice(("", "-", " ", "  -")) + written(rng, rng.randrange(8)) + rng.choice(("", " ")) for _ in range(200)
    ]
    assert column(cells) == [float(cell) for cell in cells]


def test_numbers_at_the_edges() -> None:
    cells = [
        "0",
        "-0",
        "0.0",
        "5.",
        ".5",
        "-.5",
        "9" * LONGEST_NUMBER,
        "-" + "9" * LONGEST_NUMBER,
        "00012",
        "1.0000000",
    ]
    values = column(cells)
    assert values == [float(cell) for cell in cells]
    assert np.signbit(values[1])
    assert column(["12345678", "123456789"]) == [12345678.0, 123456789.0]
    assert column(["9007199254740993"]) == [9007199254740992.0]  # beyond 2^53: rounded as the language rounds


@pytest.mark.parametrize(
    "odd",
    ["", " ", "-", ".", "-.", "--1", "1-", "1.2.3", "1..2", "1e3", "+1", "N/A", "nan", "inf", "1 2", "1_0", "0x1F",
     "1:2", "½", "1,5", "9" * (LONGEST_NUMBER + 1), "1/", "1" + chr(0x3A), "\xb2", "1\x7f"],
)  # fmt: skip
@pytest.mark.parametrize("others", [[], ["1.25"], ["1", "22.5", "-3"]])
def test_anything_else_is_left_to_slower_rules(odd: str, others: list[str]) -> None:
    odd = odd.encode("latin-1", "replace").decode("latin-1")
    assert column([*others, odd]) is None
    assert column([odd, *others]) is None


def test_random_characters_are_never_read_as_another_number() -> None:
    rng = random.Random(20260913)
    read = 0
    for _ in range(4000):
        odd = "".join(rng.choice("0123456789.. -+eE:/;_\xe9\xb0") for _ in range(rng.randrange(18)))
        cells = ["12.5", odd, "3"]
        rng.shuffle(cells)
        if (values := column(cells)) is not None:
            read += 1
            assert values == [float(cell) for cell in cells]
    assert 100 < read < 3000


@pytest.mark.parametrize(
    "data",
    [b"", b"1,2\n3\n", b"1,2\n\n", b"1,2,3\n4\n", b"1\n2,3,4\n", b"1,2\r\n3,4\n", b"1,2\n3,\x004\n", b"1,2\r3,4\n"],
)
def test_rows_of_another_width_are_not_taken_apart(data: bytes) -> None:
    assert cells_of(data, b",", 2, 40) is None


def test_texts_of_any_length_and_the_first_and_last_column() -> None:
    found = cells_of(b"a;2026;x\nbc;;longer\n", b";", 3, 40)
    assert found is not None
    assert [texts(found, i, 9, may_be_empty=True).tolist() for i in range(3)] == [  # type: ignore[union-attr]
        [b"a", b"bc"], [b"2026", b""], [b"x", b"longer"]
    ]  # fmt: skip
    assert texts(found, 1, 9, may_be_empty=False) is None
    assert texts(found, 2, 5, may_be_empty=False) is None
    only = cells_of(b"7\n8\n", b"\t", 1, 40)
    assert only is not None and numbers(only, 0, ".").tolist() == [7.0, 8.0]  # type: ignore[union-attr]
