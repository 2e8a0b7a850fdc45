#!/usr/bin/env bash
# Builds and runs every bench program, and times the whole job on the demo. Prints tables; nothing here
# passes or fails. Usage: run.sh BUILD-FOLDER
set -euo pipefail
build=$1
cd "$(dirname "$0")/.."
for source in bench/bench_*.c; do
    name=$(basename "$source" .c)
    ninja -C "$build" "bench/$name" >/dev/null
    echo "== $name"
    "$build/bench/$name"
    echo
done
echo "== the whole job on the demo (target: under 120 s from nothing, 10 s after one changed reading)"
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
measure() { /usr/bin/env time -f "  %e s, %M kB: $1" "${@:2}" >/dev/null; }
measure "tray from nothing, with all papers" "$build/relict" demo "$work" --only tray
measure "tray again, nothing changed" "$build/relict" compute "$work/tray.relict" --progress none
