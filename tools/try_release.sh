#!/usr/bin/env bash
# Build the wheel and the source archive, install each in a clean environment of every Python that
# is to be had (3.11 to 3.13), extras and all, and do a small job with it.
#   tools/try_release.sh [FOLDER]     needs the network; FOLDER (a temporary one) is left behind
set -euo pipefail

if [ "${1:-}" = one ]; then  # in a process of its own: within `if` a shell passes over failures
    python=$2 thing=$3 at=$4
    "$python" -m venv "$at/env"
    "$at/env/bin/pip" install --quiet --disable-pip-version-check "$thing" 2>"$at/pip.log"
    cd "$at"
    futtock=$at/env/bin/futtock
    # 3 says that something is noticed, as her two misprints are
    asked() { "$futtock" "$@" || [ $? = 3 ]; }
    "$futtock" --version
    "$futtock" new marram --demo >/dev/null
    "$futtock" check marram >/dev/null
    asked fair marram --json >fair.json
    asked frames marram --json >frames.json
    asked lay marram --rounds 3 --accept --json >lay.json
    asked sheets marram --out papers >/dev/null
    "$futtock" did marram 13-S-f1 laid-out --who AB >/dev/null
    "$futtock" journal verify marram >/dev/null
    "$at/env/bin/python" - <<'PY'
import json

fair, frames, lay = (json.load(open(f"{n}.json")) for n in ("fair", "frames", "lay"))
assert [f["code"] for f in fair["findings"]] == ["L001", "L001"], fair["findings"]
assert len(frames["frames"]) == 27, len(frames["frames"])
assert lay["placements"]
PY
    exit
fi

cd "$(dirname "$0")/.."
at=${1:-$(mktemp -d)}
mkdir -p "$at"
at=$(cd "$at" && pwd)
"${VENV:-.venv}/bin/python" -m hatchling build -d "$at/dist" >/dev/null 2>&1
wheel=$(ls "$at"/dist/*.whl) archive=$(ls "$at"/dist/*.tar.gz)
held=0

try() {  # python, what is installed, name
    rm -rf "${at:?}/$3"
    mkdir "$at/$3"
    if "$PWD/tools/try_release.sh" one "$1" "$2" "$at/$3"; then echo "$3: does the job"; else
        echo "$3: FAILS"
        held=1
    fi
}

for number in 3.11 3.12 3.13; do
    for python in "$HOME"/.pyenv/versions/"$number".*/bin/python "$(command -v "python$number")" ""; do
        [ -x "$python" ] && "$python" -c '' 2>/dev/null && break
    done
    if [ -n "$python" ]; then try "$python" "$wheel" "wheel-$number"; else
        echo "wheel-$number: no Python $number here"
    fi
done
try "$(command -v python3)" "$archive[cad,postgres,scan,cluster]" archive-extras
for module in OCP psycopg laspy distributed; do
    "$at/archive-extras/env/bin/python" -c "import $module" && echo "extra: $module is there" || held=1
done
exit $held
