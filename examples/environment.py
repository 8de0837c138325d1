"""Makes the environments of `examples/demo` and `tests/run`: exactly the pinned packages, and this project.

Standard library only: this runs before anything is installed. Needs Python 3.11 or later with pip, and no root.
"""

import hashlib
import importlib.util
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PIP_OPTIONS = ["--disable-pip-version-check", "--no-input", "--no-compile", "--quiet"]


def environment(name: str, requirements: Path) -> Path:
    """The Python of `.cache/NAME-…`, made once for each content of `requirements`; hashes are checked."""
    if sys.version_info < (3, 11):  # noqa: UP036  (the one line that an older Python must still understand)
        sys.exit(f"Python 3.11 or later is needed: python3.11 {sys.argv[0]}")
    pins = requirements.read_bytes()
    key = hashlib.sha256(pins + sys.version.encode() + sys.executable.encode()).hexdigest()[:12]
    folder = ROOT / ".cache" / f"{name}-{key}"
    python = folder / "bin" / "python"
    print(f"\n=== environment {folder.relative_to(ROOT)}", flush=True)
    if not (folder / "complete").exists():
        make(folder)
        install(python, "--require-hashes", "--requirement", str(requirements))
        (folder / "complete").touch()
    project = hashlib.sha256((ROOT / "pyproject.toml").read_bytes()).hexdigest()
    stamp = folder / "project"
    if not stamp.exists() or stamp.read_text() != project:
        install(python, "--no-deps", "--no-build-isolation", "--editable", str(ROOT))
        stamp.write_text(project)
    print("ready", flush=True)
    return python


def make(folder: Path) -> None:
    """A new virtual environment; where this Python cannot put pip into it, its own pip works from outside."""
    inside = importlib.util.find_spec("ensurepip") is not None
    if not inside and importlib.util.find_spec("pip") is None:
        sys.exit("This Python has neither pip nor ensurepip. Type: sudo apt-get install --yes python3-venv")
    without = [] if inside else ["--without-pip"]
    print("making it (once; this takes a minute or two) …", flush=True)
    finish([sys.executable, "-m", "venv", "--clear", *without, str(folder)])


def install(python: Path, *what: str) -> None:
    """Install with the environment's own pip, or with ours from outside."""
    has_pip = subprocess.run([python, "-c", "import pip"], stderr=subprocess.DEVNULL).returncode == 0
    pip = [str(python), "-m", "pip"] if has_pip else [sys.executable, "-m", "pip", "--python", str(python)]
    finish([*pip, "install", *PIP_OPTIONS, *what])


def finish(command: list[str]) -> None:
    """Run a command; its failure ends everything and is told."""
    if code := subprocess.run(command, cwd=ROOT).returncode:
        sys.exit(f"this failed (exit code {code}): {' '.join(command)}")
