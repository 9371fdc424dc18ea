"""Try what would be released: the wheel in an empty environment, the sdist with its own tests.

python -m tests.try_release SCRATCH

Builds both, looks at them with twine, installs the wheel in an environment that has nothing else,
walks the way of a new user with it, and runs tests of the core from the unpacked sdist. Needs
`pip install '.[test,release]'`, and a registry for what the wheel needs. Ends with 1 where anything
fails.
"""

import os
import subprocess
import sys
import tarfile
import venv
from pathlib import Path

_ROOT = Path(__file__).parents[1]

#: The way of a new user, and what has to be there then.
_WALK: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("--version --verbose", ()),
    ("--help", ()),
    ("demo", ("kettle-weather.mid",)),
    ("assess kettle-weather.mid", ()),
    (
        "tighten kettle-weather.mid --recipe kettle-weather.recipe.toml",
        ("kettle-weather-tight.mid", "kettle-weather-tight.changes.csv"),
    ),
    ("passes kettle-weather.mid --verify", ()),
    ("listen kettle-weather.mid -o page.html", ("page.html",)),
    ("render kettle-weather-tight.mid -o sound.wav", ("sound.wav",)),
    ("review --help", ()),
)
#: What of the package is no Python, and has to be there all the same.
_PAGES = (
    "import importlib.resources as r; "
    "print(*[one.name for one in r.files('evenhand.{room}').joinpath('page').iterdir()])"
)
#: Tests that the sdist is tried with.
_TESTS = (
    "take",
    "kit",
    "grid",
    "sections",
    "plan",
    "carry",
    "habit",
    "recipe",
    "docs/test_python.py",
)


def _run(*words: str | Path, cwd: Path, **env: str) -> str:
    line = " ".join(str(word) for word in words)
    clean = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    done = subprocess.run(
        [str(word) for word in words], cwd=cwd, env={**clean, **env}, capture_output=True,
        text=True, check=False,
    )  # fmt: skip
    if done.returncode:
        sys.stdout.write(done.stdout + done.stderr)
        sys.exit(f"{line}: ended with {done.returncode}")
    sys.stdout.write(f"ok  {line}\n")
    sys.stdout.flush()
    return done.stdout


def main(scratch: Path) -> None:
    """Build, install, walk."""
    scratch.mkdir(parents=True)
    dist = scratch / "dist"
    python: str | Path = sys.executable
    _run(python, "-m", "build", "--no-isolation", "-o", dist, _ROOT, cwd=scratch)
    (wheel,), (sdist,) = dist.glob("*.whl"), dist.glob("*.tar.gz")
    _run(python, "-m", "twine", "check", "--strict", wheel, sdist, cwd=scratch)

    venv.create(scratch / "empty", with_pip=True)
    bin_folder = scratch / "empty" / ("Scripts" if os.name == "nt" else "bin")
    walk = scratch / "walk"
    walk.mkdir()
    _run(bin_folder / "python", "-m", "pip", "install", "-q", wheel, cwd=walk)
    for words, made in _WALK:
        _run(bin_folder / "evenhand", *words.split(), cwd=walk)
        missing = [name for name in made if not (walk / name).stat().st_size]
        if missing:
            sys.exit(f"{words}: {missing} is empty")
    for room in ("web", "listen", "review"):
        source = _ROOT / "src" / "evenhand" / room / "page"
        if source.is_dir():
            there = _run(bin_folder / "python", "-c", _PAGES.format(room=room), cwd=walk).split()
            lacking = {path.name for path in source.iterdir()} - {*there, "__pycache__"}
            if lacking:
                sys.exit(f"the wheel lacks {sorted(lacking)} of {room}")

    with tarfile.open(sdist) as packed:
        packed.extractall(scratch / "source", filter="data")
    (source,) = (scratch / "source").iterdir()
    tests = [f"tests/{name}" for name in _TESTS]
    told = _run(
        python, "-m", "pytest", "-n", "2", *tests, cwd=source, PYTHONPATH=str(source / "src")
    )  # fmt: skip
    sys.stdout.write(told.splitlines()[-1] + "\n")


if __name__ == "__main__":
    main(Path(sys.argv[1]).resolve())
