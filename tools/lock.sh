#!/usr/bin/env bash
# Write requirements.lock: every extra, the dev group, hashes, and no address of any registry.
set -euo pipefail
cd "$(dirname "$0")/.."
${VENV:-.venv}/bin/uv pip compile pyproject.toml --universal --python-version 3.11 --group dev \
    --all-extras --generate-hashes --no-header --no-annotate --no-emit-index-url \
    --output-file requirements.lock --quiet "$@"
if grep -n '://' requirements.lock; then
    echo "requirements.lock names an address; a lock must hold on any registry." >&2
    exit 1
fi
