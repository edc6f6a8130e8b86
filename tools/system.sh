#!/usr/bin/env bash
# Chromium and PostgreSQL, for the tests that use them; nothing is done where both are there.
set -uo pipefail
missing=()
[ -n "${FUTTOCK_CHROMIUM:-}" ] || command -v chromium chromium-browser >/dev/null || missing+=(chromium)
[ -n "${FUTTOCK_POSTGRES_BIN:-}" ] || command -v initdb >/dev/null ||
    compgen -G '/usr/lib/postgresql/*/bin/initdb' >/dev/null || missing+=(postgresql)
[ ${#missing[@]} -gt 0 ] || exit 0
if [ "$(id -u)" != 0 ] || ! command -v apt-get >/dev/null; then
    echo "Not here, and not ours to install: ${missing[*]}. The tests that need them will skip."
    exit 0
fi
echo "Installing ${missing[*]} through apt."
export DEBIAN_FRONTEND=noninteractive
if ! { apt-get update -q && apt-get install -yq --no-install-recommends "${missing[@]}"; } >/tmp/futtock-apt.log 2>&1; then
    tail -5 /tmp/futtock-apt.log
    echo "apt could not install ${missing[*]}. The tests that need them will skip."
fi
