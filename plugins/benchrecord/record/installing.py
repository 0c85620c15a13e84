"""How to install what only a record needs, by a command for this Python and this system.

Source of the names of system packages: WeasyPrint's documentation, *First steps*.
"""

from __future__ import annotations

import re
import sys
import sysconfig
from importlib.metadata import PackageNotFoundError, requires
from importlib.util import find_spec
from pathlib import Path

from benchrecord.problems import as_command

EXTRA = "record"
FALLBACK = (
    "bcrypt",
    "cryptography",
    "pikepdf[pdfa]",
    "weasyprint",
)  # where the package is not installed but run from its source
PANGO = {
    "linux": "sudo apt-get install libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 fonts-dejavu-core  (on Debian; elsewhere install Pango)",
    "darwin": "brew install pango",
    "win32": "pacman -S mingw-w64-x86_64-pango  (in MSYS2, from msys2.org)",
}


def install_extra() -> str:
    """Return the command that installs the Python packages of a record next to this package.

    They are named one by one, since the package itself need not be in any index.
    """
    wanted = _requirements()
    if find_spec("pip") is None:  # an environment that uv made
        return as_command(["uv", "pip", "install", "--python", sys.executable, *wanted])
    managed = sys.prefix == sys.base_prefix and (Path(sysconfig.get_path("stdlib")) / "EXTERNALLY-MANAGED").exists()
    allowed = ["--break-system-packages"] if managed else []  # as it was for this package; PEP 668
    return as_command([sys.executable, "-m", "pip", "install", *allowed, *wanted])


def install_pango() -> str:
    """Return how this system gets the library that sets text; no Python package has it."""
    return PANGO.get(sys.platform, PANGO["linux"])


def _requirements() -> list[str]:
    try:
        split = (r.partition(";") for r in requires("benchrecord") or ())
    except PackageNotFoundError:
        return list(FALLBACK)
    return [name.strip() for name, _, marker in split if re.search(rf"extra == ['\"]{EXTRA}['\"]", marker)] or list(FALLBACK)
