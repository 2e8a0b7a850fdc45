#!/usr/bin/env bash
# Builds and runs every bench program, and times the whole job on the demo. Prints tables with the target
# beside each figure; nothing here passes or fails. Usage: run.sh BUILD-FOLDER
set -euo pipefail
build=$(realpath "$1")
cd "$(dirname "$0")/.."
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
export XDG_STATE_HOME="$work/state"
tray=$work/tray.relict

# measure WHAT ASKED-SECONDS COMMAND...
measure() {
    local what=$1 asked=$2 seconds most=${memory:-500} memory
    shift 2
    /usr/bin/env time -o "$work/time" -f "%e %M" "$@" >/dev/null
    read -r seconds memory <"$work/time"
    printf '  %-44s %8.2f s %6d MB   asked: %s s, %s MB  %s\n' "$what" "$seconds" $((memory / 1024)) "$asked" "$most" \
        "$(awk -v s="$seconds" -v a="$asked" -v m=$((memory / 1024)) -v b="$most" \
            'BEGIN { print s <= a && m <= b ? "met" : "missed" }')"
}

echo "== the whole job on the demo"
measure "tray from nothing, with all papers" 120 "$build/relict" demo "$work" --only tray
measure "tray again, nothing changed" 10 "$build/relict" compute "$tray" --progress none
"$build/relict" show "$tray" stock --json >/dev/null
python3 - "$build/relict" "$tray" >"$work/reading.json" <<'END_OF_PYTHON'
import csv, json, subprocess, sys, tempfile
with tempfile.TemporaryDirectory() as folder:
    subprocess.run([sys.argv[1], "export", sys.argv[2], folder + "/open"], check=True, capture_output=True)
    with open(folder + "/open/tables/measure.csv", newline="") as f:
        row = next(r for r in csv.DictReader(f) if r["id"] == "A01.width")
print(json.dumps({"id": row["id"], "piece": row["piece"], "quantity": row["quantity"], "value": float(row["value_mm"]) + 0.5,
                  "tolerance": float(row["tolerance_mm"]), "state": row["state"], "direction": row["direction"]}))
END_OF_PYTHON
"$build/relict" enter "$tray" measure A01.width "$work/reading.json" >/dev/null
measure "tray after one changed reading" 10 "$build/relict" compute "$tray" --progress none
memory=300 measure "everything handed over" 10 "$build/relict" tell "$tray" "$work/told"
echo
for source in bench/bench_*.c; do
    name=$(basename "$source" .c)
    ninja -C "$build" "bench/$name" >/dev/null
    echo "== $name"
    case $name in
    bench_what_if | bench_serve) "$build/bench/$name" "$tray" ;;
    *) "$build/bench/$name" ;;
    esac
    echo
done
echo "== published shell problems"
python3 bench/shell_cases.py "$build/relict"
echo
if command -v npm >/dev/null && command -v chromium >/dev/null; then
    echo "== the screens"
    (cd tests/browser && npm ci --silent --no-audit --no-fund)
    "$build/relict" new "$work/many.relict" "2,000 pieces" >/dev/null
    { echo id,part,material,length_mm,width_mm,state
      for i in $(seq 2000); do echo "P$i,cross lath,split wood,$((100 + i % 200)),$((15 + i % 12)),wet in lab"; done; } >"$work/finds.csv"
    "$build/relict" import "$work/many.relict" "$work/finds.csv" >/dev/null
    timeout 200 node tests/browser/speed.mjs "$build/relict" "$tray" demo/tray/finds.csv "$work/many.relict"
fi
