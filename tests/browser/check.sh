#!/usr/bin/env bash
# check.sh BINARY [--long]: the screens in Debian's Chromium. Looks at each in every light and width (axe-core,
# console, width), reads them in the test language, uses the wood page without a network, and runs the full
# numbers of hostile requests and of two clients; then the whole job on the tray from an empty project, by mouse.
# With --long the same by keyboard alone, by finger on a phone, and from what the keyboard left, by keyboard at
# the size of a phone.
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
(cd "$here" && node words.mjs ../../web ../../src && node loads.mjs ../../web) || exit 1
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
part "the test language" timeout 300 node "$here/language.mjs" "$program" "$work/tray.relict"
part "the screens in Firefox" timeout 300 node "$here/firefox.mjs" "$program" "$work/tray.relict" "$pictures"
part "how fast" timeout 240 node "$here/speed.mjs" "$program" "$work/tray.relict" "$here/../../demo/tray/finds.csv"
journey() { # WAY
    timeout 900 node "$here/journey.mjs" "$program" "$1" "$pictures" "$here/../../demo/tray"
}
part "the whole job by mouse" journey mouse
[[ " $* " == *" --long "* ]] || exit $failed
part "the whole job by finger on a phone" journey finger
export RELICT_JOURNEY_KEEP=$work/kept.relict
part "the whole job by keyboard alone" journey keyboard
unset RELICT_JOURNEY_KEEP
if [[ -f $work/kept.relict ]]; then
    export RELICT_JOURNEY_FROM=$work/kept.relict
    part "the job by keyboard alone at the size of a phone" journey keyboard-phone
else
    echo "not ok: the job by keyboard at the size of a phone: there is no worked-out project to begin from"
    failed=1
fi
exit $failed
