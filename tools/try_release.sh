#!/usr/bin/env bash
# Build the wheel and the source archive, install each in a clean environment of every Python that
# is to be had (3.11 to 3.13), extras and all, and do a small job with it.
#   tools/try_release.sh [FOLDER]     needs the network; FOLDER (a temporary one) is left behind
set -euo pipefail
root=$(cd "$(dirname "$0")/.." && pwd)
at=${1:-$(mktemp -d)}
mkdir -p "$at"
at=$(cd "$at" && pwd)
cd "$root"
"${VENV:-.venv}/bin/python" -m hatchling build -d "$at/dist" >/dev/null
wheel=$(ls "$at"/dist/*.whl) archive=$(ls "$at"/dist/*.tar.gz)
held=0

try() {  # python, what is installed, extras, name
    local venv="$at/$4"
    rm -rf "$venv"
    "$1" -m venv "$venv"
    "$venv/bin/pip" install --quiet --disable-pip-version-check "$2$3"
    rm -rf "$at/work-$4"
    mkdir "$at/work-$4"
    (
        cd "$at/work-$4"
        "$venv/bin/futtock" --version
        "$venv/bin/futtock" new marram --demo >/dev/null
        "$venv/bin/futtock" check marram >/dev/null
        "$venv/bin/futtock" fair marram --json >fair.json
        "$venv/bin/futtock" frames marram --json >frames.json
        "$venv/bin/futtock" lay marram --rounds 3 --accept --json >lay.json || [ $? = 3 ]
        "$venv/bin/futtock" sheets marram --out papers >/dev/null
        "$venv/bin/futtock" did marram 13-S-f1 laid-out --who AB >/dev/null
        "$venv/bin/futtock" journal verify marram >/dev/null
        "$venv/bin/python" - <<'PY'
import json

fair, frames, lay = (json.load(open(f"{n}.json")) for n in ("fair", "frames", "lay"))
assert len(fair["doubtful"]) == 2, fair["doubtful"]
assert len(frames["frames"]) == 27, len(frames["frames"])
assert lay["placements"] and "unplaced" in lay
PY
    )
}

for number in 3.11 3.12 3.13; do
    python=$(command -v "python$number" || ls "$HOME"/.pyenv/versions/"$number".*/bin/python 2>/dev/null | head -1 || true)
    if [ -z "$python" ] || ! "$python" -c '' 2>/dev/null; then
        echo "python $number: not to be had here"
        continue
    fi
    if try "$python" "$wheel" "" "wheel-$number"; then
        echo "python $number: the wheel does the job"
    else
        echo "python $number: the wheel FAILS"
        held=1
    fi
done
python=${PYTHON:-python3}
if try "$python" "$archive" "[cad,postgres,scan,cluster]" "archive-extras"; then
    for module in OCP psycopg laspy distributed; do
        "$at/archive-extras/bin/python" -c "import $module" && echo "extra: $module is there"
    done
else
    echo "the source archive with extras FAILS"
    held=1
fi
exit $held
