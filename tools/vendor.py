"""Fetch what is vendored, convert what needs it, and write a manifest beside it.

Run by ``make vendor``; needs npm and the network. Nothing is fetched at any other time: what this
leaves is committed, and a test compares every file with its hash.

A package's tarball is named by version and its sha512 checked against the one given here, so a
second run makes the same bytes or stops.
"""

from __future__ import annotations

import base64
import hashlib
import json
import shutil
import subprocess
import tarfile
import tempfile
from dataclasses import dataclass
from pathlib import Path

import fonts

ROOT = Path(__file__).resolve().parent.parent
FONTS = ROOT / "futtock" / "sheet" / "fonts"
WEB = ROOT / "futtock" / "web" / "static" / "vendor" / "fonts"
SCRIPTS = WEB.parent / "scripts"
TESTS = ROOT / "tests" / "data" / "axe"
THREE_PARTS = """
export {
  AmbientLight, Box3, Color, DirectionalLight, DoubleSide, EdgesGeometry, Group, LineBasicMaterial,
  LineSegments, Mesh, MeshLambertMaterial, PerspectiveCamera, Raycaster, Scene, Vector2, Vector3,
  WebGLRenderer,
} from "three";
export { OrbitControls } from "three/examples/jsm/controls/OrbitControls.js";
export { GLTFLoader } from "three/examples/jsm/loaders/GLTFLoader.js";
"""

ATKINSON = ("@expo-google-fonts/atkinson-hyperlegible-next", "0.4.1")
SERIF = ("@expo-google-fonts/source-serif-4", "0.4.1")
NOTO = ("@expo-google-fonts/noto-sans", "0.4.2")
MATH = ("@expo-google-fonts/noto-sans-math", "0.4.2")
ATKINSON_WEB = ("@fontsource-variable/atkinson-hyperlegible-next", "5.3.0")
SERIF_WEB = ("@fontsource-variable/source-serif-4", "5.3.1")
NOTO_WEB = ("@fontsource-variable/noto-sans", "5.3.0")
HTMX = ("htmx.org", "2.0.10")
THREE = ("three", "0.187.0")
ESBUILD = "esbuild@0.28.2"
AXE = ("axe-core", "4.14.1")
LOCK = ROOT / "tools" / "vendor.lock.json"
"""sha512 of each tarball as its registry states it, by ``name@version``."""


@dataclass(frozen=True)
class Vendored:
    """A file as the manifest will list it."""

    name: str
    what: str
    origin: str
    licence: str
    licence_file: str
    changed: str = ""


def fetch(package: tuple[str, str], into: Path) -> Path:
    """The unpacked folder of a package, its hash checked."""
    spec = "@".join(package)
    said = subprocess.run(
        ["npm", "pack", "--silent", "--json", "--pack-destination", str(into), spec],
        check=True,
        capture_output=True,
        text=True,
    )
    told = json.loads(said.stdout)
    entry = told[0] if isinstance(told, list) else next(iter(told.values()))
    tarball = into / Path(entry["filename"]).name
    digest = hashlib.sha512(tarball.read_bytes()).digest()
    integrity = "sha512-" + base64.b64encode(digest).decode()
    known = json.loads(LOCK.read_text()) if LOCK.exists() else {}
    if known.setdefault(spec, integrity) != integrity:
        raise SystemExit(f"{spec}: expected {known[spec]}, got {integrity}")
    LOCK.write_text(json.dumps(known, indent=1, sort_keys=True) + "\n")
    folder = into / tarball.stem
    with tarfile.open(tarball) as archive:
        archive.extractall(folder, filter="data")
    return folder / "package"


def manifest(folder: Path, files: list[Vendored]) -> None:
    """Write ``MANIFEST.toml`` of a folder."""
    lines = ["# Files from elsewhere, made by tools/vendor.py; the hashes are tested."]
    for f in sorted(files, key=lambda f: f.name):
        digest = hashlib.sha256((folder / f.name).read_bytes()).hexdigest()
        lines += ["", "[[file]]", f"name = {json.dumps(f.name)}", f"what = {json.dumps(f.what)}"]
        lines += [f"origin = {json.dumps(f.origin)}", f"licence = {json.dumps(f.licence)}"]
        lines += [f"licence_file = {json.dumps(f.licence_file)}"]
        if f.changed:
            lines += [f"changed = {json.dumps(f.changed)}"]
        lines += [f'sha256 = "{digest}"']
    (folder / "MANIFEST.toml").write_text("\n".join(lines) + "\n", encoding="utf-8")


def pdf_fonts(box: Path) -> None:
    """TrueType fonts that the PDF writer embeds."""
    FONTS.mkdir(parents=True, exist_ok=True)
    atkinson, serif, noto, math = (fetch(p, box) for p in (ATKINSON, SERIF, NOTO, MATH))
    listed = []
    for cut, name in (("400Regular", "Regular"), ("700Bold", "Bold")):
        out = f"AtkinsonHyperlegibleNext-{name}.ttf"
        fonts.figures(
            atkinson / cut / f"AtkinsonHyperlegibleNext_{cut}.ttf",
            noto / cut / f"NotoSans_{cut}.ttf",
            math / "400Regular" / "NotoSansMath_400Regular.ttf",
            FONTS / out,
        )
        listed.append(
            Vendored(
                out,
                f"Atkinson Hyperlegible Next {name}, figures and labels of drawings",
                "npm " + ", ".join("@".join(p) for p in (ATKINSON, NOTO, MATH)),
                "OFL-1.1",
                "OFL-figures.txt",
                "Tabular figures are the default; Greek, Cyrillic and signs that the family lacks "
                "were added from Noto Sans and Noto Sans Math; layout tables dropped.",
            )
        )
    for cut, name in (("400Regular", "Regular"), ("600SemiBold", "Semibold")):
        out = f"SourceSerif4-{name}.ttf"
        shutil.copyfile(serif / cut / f"SourceSerif4_{cut}.ttf", FONTS / out)
        listed.append(
            Vendored(
                out,
                f"Source Serif 4 {name}, words of drawings",
                "npm " + "@".join(SERIF),
                "OFL-1.1",
                "OFL-words.txt",
            )
        )
    notices = [(f / "LICENSE_FONT").read_text(encoding="utf-8") for f in (atkinson, noto, math)]
    heads = [n.splitlines()[0].strip() for n in notices]
    rest = notices[0].split("\n", 1)[1]
    (FONTS / "OFL-figures.txt").write_text("\n".join(heads) + "\n" + rest, encoding="utf-8")
    shutil.copyfile(serif / "LICENSE_FONT", FONTS / "OFL-words.txt")
    manifest(FONTS, listed)


def web_fonts(box: Path) -> None:
    """Variable fonts of the pages, byte for byte as published."""
    WEB.mkdir(parents=True, exist_ok=True)
    chosen = [
        (ATKINSON_WEB, "atkinson-hyperlegible-next", ("latin", "latin-ext"), "OFL-atkinson.txt"),
        (SERIF_WEB, "source-serif-4", ("latin", "latin-ext", "greek", "cyrillic"), "OFL-serif.txt"),
        (NOTO_WEB, "noto-sans", ("greek", "cyrillic"), "OFL-noto.txt"),
    ]
    listed = []
    for package, family, scripts, licence in chosen:
        folder = fetch(package, box)
        shutil.copyfile(folder / "LICENSE", WEB / licence)
        for script in scripts:
            name = f"{family}-{script}-wght-normal.woff2"
            shutil.copyfile(folder / "files" / name, WEB / name)
            what = f"{family.replace('-', ' ')}, {script}, all weights"
            listed.append(Vendored(name, what, "npm " + "@".join(package), "OFL-1.1", licence))
    manifest(WEB, listed)


def web_scripts(box: Path) -> None:
    """Scripts of the pages: htmx as published, and the parts of three that are used, in one."""
    SCRIPTS.mkdir(parents=True, exist_ok=True)
    htmx, three = fetch(HTMX, box), fetch(THREE, box)
    shutil.copyfile(htmx / "dist" / "htmx.min.js", SCRIPTS / "htmx.min.js")
    shutil.copyfile(htmx / "LICENSE", SCRIPTS / "LICENSE-htmx.txt")
    shutil.copyfile(three / "LICENSE", SCRIPTS / "LICENSE-three.txt")
    modules = box / "node_modules"
    modules.mkdir(exist_ok=True)
    (modules / "three").symlink_to(three)
    (box / "parts.js").write_text(THREE_PARTS)
    words = ["npx", "--yes", ESBUILD, "parts.js", "--bundle", "--minify", "--format=esm"]
    out = SCRIPTS / "three.min.js"
    subprocess.run([*words, "--legal-comments=inline", f"--outfile={out}"], check=True, cwd=box)
    listed = [
        Vendored(
            "htmx.min.js",
            "htmx, updates of pages",
            "npm " + "@".join(HTMX),
            "0BSD",
            "LICENSE-htmx.txt",
        ),
        Vendored(
            "three.min.js",
            "three, the view in space",
            "npm " + "@".join(THREE),
            "MIT",
            "LICENSE-three.txt",
            f"The parts that are used, in one file, by {ESBUILD}.",
        ),
    ]
    manifest(SCRIPTS, listed)


def test_scripts(box: Path) -> None:
    """What only the tests run: the checker of pages for people who cannot see them."""
    TESTS.mkdir(parents=True, exist_ok=True)
    axe = fetch(AXE, box)
    shutil.copyfile(axe / "axe.min.js", TESTS / "axe.min.js")
    shutil.copyfile(axe / "LICENSE", TESTS / "LICENSE-axe.txt")
    name, what = "axe.min.js", "axe-core, checks of accessibility, for tests only"
    origin = "npm " + "@".join(AXE)
    manifest(TESTS, [Vendored(name, what, origin, "MPL-2.0", "LICENSE-axe.txt")])


def main() -> None:
    with tempfile.TemporaryDirectory() as box:
        pdf_fonts(Path(box))
        web_fonts(Path(box))
        web_scripts(Path(box))
        test_scripts(Path(box))


if __name__ == "__main__":
    main()
