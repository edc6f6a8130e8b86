"""Make the pictures of the README and the docs from a finished demo: docs/pictures/*.png.

``make pictures`` runs the demo first. The drawings are the demo's own; nothing is drawn here.
"""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

from playwright.sync_api import sync_playwright

ROOT = Path(__file__).resolve().parent.parent
OUT = ROOT / "docs" / "pictures"
FONTS = ROOT / "futtock" / "web" / "static" / "vendor" / "fonts"
FLAGS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip
PAGE = """<!doctype html><meta charset="utf-8"><style>
@font-face {{ font-family: "Atkinson Hyperlegible Next"; font-weight: 200 800;
  src: url("{fonts}/atkinson-hyperlegible-next-latin-wght-normal.woff2"); }}
@font-face {{ font-family: "Source Serif 4"; font-weight: 200 900;
  src: url("{fonts}/source-serif-4-latin-wght-normal.woff2"); }}
body {{ margin: 0; width: 1200px; background: #f5f8f5; font-family: "Source Serif 4", serif; }}
figure {{ margin: 16px 24px; }} svg {{ display: block; width: 100%; height: auto; }}
.two {{ display: grid; grid-template-columns: 1fr 1fr; align-items: center; }}
:root {{ --figures: "Atkinson Hyperlegible Next"; --words: "Source Serif 4"; }}
</style>{body}"""


def best_slab(drawings: Path) -> Path:
    """The drawn slab with most on it."""
    return max(drawings.glob("slab-*.svg"), key=lambda p: (p.stat().st_size, p.name))


def main(demo: Path) -> None:
    drawings = demo / "drawings"
    middle = sorted(drawings.glob("frame-*.svg"), key=lambda p: p.name)[0]

    def figure(path: Path) -> str:
        return f"<figure>{path.read_text(encoding='utf-8')}</figure>"

    pages = {
        "marram": figure(drawings / "lines-plan.svg")
        + f'<div class="two">{figure(middle)}{figure(best_slab(drawings))}</div>',
        "lines-plan": figure(drawings / "lines-plan.svg"),
        "frame": figure(middle),
        "slab": figure(best_slab(drawings)),
    }
    for mould in sorted(drawings.glob("mould-*.svg"))[:1]:
        pages["mould"] = figure(mould)
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    OUT.mkdir(exist_ok=True)
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium, args=FLAGS)
        page = browser.new_page(viewport={"width": 1200, "height": 400}, device_scale_factor=1.5)
        for name, body in pages.items():
            text = PAGE.format(fonts=FONTS.as_uri(), body=body)
            place = demo / f".{name}.html"
            place.write_text(text, encoding="utf-8")
            page.goto(place.as_uri())
            page.evaluate("document.fonts.ready")
            page.screenshot(path=OUT / f"{name}.png", full_page=True)
            place.unlink()
        browser.close()


if __name__ == "__main__":
    main(Path(sys.argv[1] if len(sys.argv) > 1 else ROOT / "demo-out"))
