"""The examples in the docstrings run, and every public function has one."""

import doctest
import importlib
import inspect
import pkgutil

import pytest

import benchgalley.metrology as room

MODULES = sorted(module.name for module in pkgutil.iter_modules(room.__path__))


@pytest.mark.parametrize("name", MODULES)
def test_examples(name):
    module = importlib.import_module(f"benchgalley.metrology.{name}")
    failed, _ = doctest.testmod(module)
    assert failed == 0


@pytest.mark.parametrize("name", MODULES)
def test_every_public_function_is_explained(name):
    module = importlib.import_module(f"benchgalley.metrology.{name}")
    helpers = {"check_confidence", "finite", "same_length", "as_array"}
    for called, function in vars(module).items():
        function = inspect.unwrap(function) if callable(function) else function
        if not inspect.isfunction(function) or function.__module__ != module.__name__ or called.startswith("_"):
            continue
        assert function.__doc__, called
        assert ">>>" in function.__doc__ or called in helpers, f"{called} has no example"


def test_public_names_are_gathered():
    assert len(room.__all__) == len(set(room.__all__))
    for name in room.__all__:
        assert getattr(room, name) is not None


def test_no_heavy_import():
    """Only numpy and scipy.special at start; the statistics package never."""
    import subprocess
    import sys

    code = (
        "import sys, benchgalley.metrology;"
        "print([m for m in sys.modules if m in {'scipy.stats','scipy.optimize','scipy.interpolate','pandas','altair'}])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env={"PYTHONPATH": ":".join(sys.path)}
    )
    assert done.stdout.strip() == "[]"
