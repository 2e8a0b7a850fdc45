#!/usr/bin/env bash
# check.sh BINARY: the screens in Debian's Chromium. Looks at each in every light and width (axe-core,
# console, width), uses the wood page without a network, and runs the full numbers of hostile requests and of
# two clients. The whole job from an empty project is journey.mjs, by mouse, keyboard or finger; it is run by
# hand until every part of it is known to pass.
# Pictures are left beside BINARY in browser-pictures.
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
program=$(realpath "${1:?usage: check.sh BINARY}")
pictures=$(dirname "$program")/browser-pictures

if grep -nE 'innerHTML|outerHTML|insertAdjacentHTML|document\.write|[^a-zA-Z.]eval\(|new Function' "$here"/../../web/*.js; then
    echo "not ok: text must go in as text (web/dom.js)"
    exit 1
fi
command -v npm >/dev/null || { echo "not ok: npm is not installed, so no screen was looked at (apt install npm)"; exit 1; }
chromium=$(command -v chromium) || { echo "not ok: chromium is not installed, so no screen was looked at"; exit 1; }
export CHROMIUM=$chromium
(cd "$here" && npm ci --silent --no-audit --no-fund)

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
export XDG_STATE_HOME=$work/state
failed=0
part() { # NAME COMMAND...
    local name=$1 begun=$SECONDS
    shift
    echo "-- $name"
    "$@" || { echo "not ok: $name"; failed=1; }
    echo "   ($((SECONDS - begun)) s)"
}

# The wire, with all the cases asked for, under sanitizers where that build is there.
for folder in "$here"/../../build-asan "$(dirname "$program")"; do
    [[ -x $folder/tests/unit/unit_hostile ]] && break
done
export LSAN_OPTIONS=suppressions=$here/../leaks.txt:print_suppressions=0 UBSAN_OPTIONS=halt_on_error=1
part "hostile requests ($(basename "$folder"))" env RELICT_HOSTILE=10000 timeout 300 "$folder/tests/unit/unit_hostile"
part "two clients, a hundred streams ($(basename "$folder"))" env RELICT_WRITES=1000 timeout 200 "$folder/tests/unit/unit_together"

if [[ -n ${RELICT_DEMO:-} ]]; then
    cp -r "$RELICT_DEMO/." "$work" # made by ./run check, once for all
else
    "$program" demo "$work" --only tray >/dev/null
fi
part "the wood page" timeout 200 node "$here/wood.mjs" "$program" "$work/tray.relict" "$pictures"
part "every screen" timeout 900 node "$here/screens.mjs" "$program" "$work/tray.relict" "$pictures"
part "how fast" timeout 60 node "$here/speed.mjs" "$program" "$work/tray.relict"
exit $failed
