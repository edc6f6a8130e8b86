#!/usr/bin/env bash
# Make the virtual environment and install exactly what requirements.lock names.
set -euo pipefail
cd "$(dirname "$0")/.."
python=${PYTHON:-python3} venv=${VENV:-.venv} cad=${CAD:-0}

"$python" -c 'import sys; sys.exit(sys.version_info < (3, 11))' || {
    echo "Futtock needs Python 3.11 or newer; $python is $("$python" --version 2>&1)." >&2
    echo "Say which to use: make PYTHON=python3.12 ..." >&2
    exit 2
}

if [ ! -x "$venv/bin/python" ]; then
    if ! "$python" -m venv "$venv"; then
        # Debian keeps the module that fills a new environment in a package of its own.
        rm -rf "$venv"
        if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null; then
            apt-get update -q && DEBIAN_FRONTEND=noninteractive apt-get install -yq python3-venv
            "$python" -m venv "$venv"
        else
            echo "python3-venv is missing: ask whoever keeps this machine to install it." >&2
            exit 2
        fi
    fi
fi

bin=$venv/bin
if [ ! -x "$bin/uv" ]; then
    # The very version that the lock names, by its hash.
    awk '/^uv==/ { take = 1 } /^[a-z0-9]/ && !/^uv==/ { take = 0 } take' requirements.lock >"$venv/uv.lock"
    "$bin/python" -m pip install --quiet --disable-pip-version-check --require-hashes -r "$venv/uv.lock"
fi

leave=$venv/leave-out.txt
: >"$leave"
[ "$cad" = 1 ] || printf '%s\n' cadquery-ocp-novtk cadquery-ocp-proxy >"$leave"
export VIRTUAL_ENV="$PWD/$venv" UV_PYTHON_DOWNLOADS=never
case $venv in /*) export VIRTUAL_ENV="$venv" ;; esac
# Byte code is compiled here once: where Python is told to write none, every start would otherwise
# compile numpy and its kin anew, which takes seconds.
"$bin/uv" pip install --quiet --compile-bytecode --require-hashes --excludes "$leave" -r requirements.lock
"$bin/uv" pip install --quiet --no-deps --no-build-isolation -e .
"$bin/python" -m compileall -q futtock

# Compile the hot loops now, so that the first layout does not wait for it.
if "$bin/python" -c 'import importlib.util as u, sys; sys.exit(u.find_spec("futtock.job.warm") is None)'; then
    "$bin/python" -m futtock.job.warm || echo "Not compiled ahead: the first layout will take longer." >&2
fi
