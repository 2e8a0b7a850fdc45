#!/usr/bin/env bash
# check.sh BINARY: looks at the screens in Debian's Chromium. Pictures are left in out/browser.
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
program=$(realpath "${1:?usage: check.sh BINARY}")
pictures=$here/../../out/browser

if grep -nE 'innerHTML|outerHTML|insertAdjacentHTML|document\.write|[^a-zA-Z.]eval\(' "$here"/../../web/*.js; then
    echo "not ok: text must go in as text (web/dom.js)"
    exit 1
fi
command -v npm >/dev/null || { echo "not ok: npm is not installed, so no screen was looked at (apt install npm)"; exit 1; }
chromium=$(command -v chromium) || { echo "not ok: chromium is not installed, so no screen was looked at"; exit 1; }
(cd "$here" && npm ci --silent --no-audit --no-fund)

work=$(mktemp -d)
served=
finish() {
    [[ -z $served ]] || kill "$served" 2>/dev/null || true
    rm -rf "$work"
}
trap finish EXIT
"$program" demo "$work" >/dev/null
"$program" serve "$work/tray.relict" --quiet >"$work/told" 2>&1 &
served=$!
for _ in $(seq 50); do
    address=$(grep -oE 'http://[^ ]+#key=[0-9a-f]+' "$work/told" | head -n 1) && break
    sleep 0.1
done
[[ ${address:-} ]] || { echo "not ok: relict serve printed no address"; cat "$work/told"; exit 1; }
CHROMIUM=$chromium timeout 240 node "$here/screens.mjs" "$address" "$pictures"
