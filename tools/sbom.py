"""List everything that goes into an installed Futtock, as CycloneDX JSON (`make sbom`).

Pins and hashes come from requirements.lock, licences from what is installed here, vendored files
from their manifests. The same input gives the same bytes.
"""

from __future__ import annotations

import json
import re
import sys
import tomllib
from importlib import metadata
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "docs" / "_ext"))


def locked() -> list[dict[str, Any]]:
    """A component for each pin of the lock."""
    from made import licence

    text = (ROOT / "requirements.lock").read_text(encoding="utf-8")
    found = []
    for block in re.split(r"\n(?=\S)", text.strip()):
        pin = re.match(r"([A-Za-z0-9._-]+)(?:\[[^\]]*\])?==([^\s;]+)", block)
        assert pin is not None, block
        name, version = pin[1], pin[2]
        try:
            said = licence(name)
        except metadata.PackageNotFoundError:
            said = "not installed where this list was made"
        hashes = sorted(re.findall(r"sha256:([0-9a-f]{64})", block))
        found.append(
            {
                "type": "library",
                "bom-ref": f"pkg:pypi/{name}@{version}",
                "name": name,
                "version": version,
                "purl": f"pkg:pypi/{name}@{version}",
                "licenses": [{"license": {"name": said}}],
                "hashes": [{"alg": "SHA-256", "content": h} for h in hashes],
            }
        )
    return found


def vendored() -> list[dict[str, Any]]:
    """A component for each vendored file."""
    return [
        {
            "type": "file",
            "bom-ref": str((path.parent / entry["name"]).relative_to(ROOT)),
            "name": entry["name"],
            "description": f"{entry['what']}; from {entry['origin']}",
            "licenses": [{"license": {"name": entry["licence"]}}],
            "hashes": [{"alg": "SHA-256", "content": entry["sha256"]}],
        }
        for path in sorted(ROOT.glob("futtock/**/MANIFEST.toml"))
        for entry in tomllib.loads(path.read_text(encoding="utf-8"))["file"]
    ]


def bill() -> dict[str, Any]:
    """The whole list."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    return {
        "bomFormat": "CycloneDX",
        "specVersion": "1.6",
        "version": 1,
        "metadata": {
            "component": {
                "type": "application",
                "name": project["name"],
                "version": project["version"],
                "licenses": [{"license": {"id": project["license"]}}],
            }
        },
        "components": [*locked(), *vendored()],
    }


if __name__ == "__main__":
    out = ROOT / "dist" / "sbom.cdx.json"
    out.parent.mkdir(exist_ok=True)
    out.write_text(json.dumps(bill(), indent=1) + "\n", encoding="utf-8")
    print(out.relative_to(ROOT))
