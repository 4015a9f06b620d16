"""From a fresh checkout to the demo or the tests, with nothing but Python.

    python3 scripts/set_up.py demo [ARGUMENT ...]    install, then ``festoon demo``
    python3 scripts/set_up.py test [ARGUMENT ...]    install with the test tools, then ``pytest``
    python3 scripts/set_up.py install                install with the test tools
    python3 scripts/set_up.py front                  bring the app's components up to date with front/
    python3 scripts/set_up.py lock                   write the lock files anew (needs uv)

Everything goes into ``.venv`` beside this checkout, from the hash-locked requirements: with uv where it is on the
PATH, else with pip. A second run installs nothing that is already there.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
BIN = VENV / ("Scripts" if os.name == "nt" else "bin")
PYTHON = BIN / ("python.exe" if os.name == "nt" else "python")
RUN_LOCK, DEV_LOCK = ROOT / "requirements.txt", ROOT / "requirements-dev.txt"
# The locks hold for every supported Python and system, and name no index: the user's own settings decide that.
LOCKING = ["uv", "pip", "compile", "pyproject.toml", "--universal", "--python-version", "3.11", "--upgrade"]
LOCKING += ["--generate-hashes", "--no-annotate", "--no-header", "--quiet", "--group"]


def run(*command: str | Path) -> int:
    """Run a command in the checkout and return its exit code."""
    return subprocess.call([str(part) for part in command], cwd=ROOT)


def must(*command: str | Path) -> None:
    """Run a command in the checkout and stop where it fails."""
    if code := run(*command):
        sys.exit(code)


def install(lock: Path) -> None:
    """Bring ``.venv`` to the state of a lock file, with festoon itself installed from this checkout."""
    stamp = VENV / f"{lock.stem}.installed"
    wanted = hashlib.sha256(lock.read_bytes() + (ROOT / "pyproject.toml").read_bytes()).hexdigest()
    if stamp.exists() and stamp.read_text() == wanted:
        must(PYTHON, "hatch_build.py")  # the app's components may have changed where nothing else has
        return
    print(f"installing {lock.name} into {VENV.name}", file=sys.stderr, flush=True)
    if not PYTHON.exists():
        must(sys.executable, "-m", "venv", VENV)
    has_uv = shutil.which("uv") is not None
    pip = (
        ["uv", "pip", "install", "--quiet", "--python", PYTHON]
        if has_uv
        else [PYTHON, *["-m", "pip", "--disable-pip-version-check", "install", "-q"]]
    )
    must(*pip, "--require-hashes", "-r", lock)
    # The build tools are in the lock too, so that building fetches nothing.
    must(*pip, "--no-deps", "--no-build-isolation", "--editable", ".")
    stamp.write_text(wanted)


def main(arguments: list[str]) -> int:
    """Do what the first argument says."""
    if sys.version_info < (3, 11):  # noqa: UP036  a fresh checkout may meet an older one
        print(f"festoon needs Python 3.11 or newer; this is {sys.version.split()[0]}", file=sys.stderr)
        return 2
    verb, rest = (arguments or [""])[0], arguments[1:]
    if verb == "demo":
        install(RUN_LOCK)
        return run(BIN / "festoon", "demo", *rest)
    if verb == "test":
        install(DEV_LOCK)
        return run(PYTHON, "-m", "pytest", *rest)
    if verb == "install" and not rest:
        install(DEV_LOCK)
        return 0
    if verb == "front" and not rest:
        install(DEV_LOCK)
        return 0
    if verb == "lock" and not rest:
        must(*LOCKING, "build", "--output-file", RUN_LOCK.name)
        must(*LOCKING, "dev", "--output-file", DEV_LOCK.name, "--constraints", RUN_LOCK.name)
        return 0
    print(__doc__, file=sys.stderr)
    return 2


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
