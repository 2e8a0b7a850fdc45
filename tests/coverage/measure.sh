#!/usr/bin/env bash
# How much of the core the checks reach: tests/coverage/measure.sh [--quick]
#
# Builds with counters (build-coverage), runs the unit tests, the published values, failing
# allocations and files, open computations and finds with nonsense in them and two random projects
# through the whole job; prints a table by room: lines (asked: 90 %), branches (asked: 80 %).
# --quick: the unit tests alone.
set -euo pipefail
cd "$(dirname "$0")/../.."
build=build-coverage
compiler=gcc
command -v ccache >/dev/null && compiler="ccache gcc"
[[ -f $build/build.ninja ]] || CC=$compiler meson setup $build -Db_coverage=true --buildtype=debug >/dev/null
ninja -C $build --quiet
find $build -name '*.gcda' -delete
export RELICT_SOURCE=$PWD CMOCKA_MESSAGE_OUTPUT=TAP LD_LIBRARY_PATH=$PWD/$build
mkdir -p out
meson test -C $build --suite unit --no-rebuild -q --timeout-multiplier 20 >out/coverage.log 2>&1 || echo "some unit tests failed: see out/coverage.log"
if [[ " $* " != *" --quick "* ]]; then
    meson test -C $build --suite against --no-rebuild -q --timeout-multiplier 20 >>out/coverage.log 2>&1 ||
        echo "some published values were missed: see out/coverage.log"
    RELICT_SECONDS=2 $build/tests/crash/crash_calc >>out/coverage.log 2>&1 || echo "failing allocations: faults"
    RELICT_FAULTS=200 $build/tests/crash/crash_faults >>out/coverage.log 2>&1 || echo "failing files: faults"
    for what in "absurd 400" "sizes 200" "projects 2"; do
        # shellcheck disable=SC2086
        $build/tests/stress/stress $what >>out/coverage.log 2>&1 || echo "stress $what: faults"
    done
fi
gcovr -r . --exclude-unreachable-branches --exclude-throw-branches \
    --filter 'src/(num|plane|statement|stuff|remains|shape|making|body|gather|trial)/' \
    --csv out/coverage.csv $build/librelict_core.a.p >>out/coverage.log 2>&1
python3 - <<'END_OF_PYTHON'
import csv

rooms, files = {}, []
with open("out/coverage.csv", newline="") as f:
    for r in csv.DictReader(f):
        seen = [int(r[k]) for k in ("line_total", "line_covered", "branch_total", "branch_covered")]
        for room in (r["filename"].split("/")[1], "the core"):
            rooms[room] = [a + b for a, b in zip(rooms.get(room, [0] * 4), seen)]
        files.append((seen[2] - seen[3], r["filename"]))
print(f"{'room':12} {'lines':>7} {'reached':>8} {'branches':>9} {'reached':>8}")
for room, (lines, hit, branches, taken) in sorted(rooms.items(), key=lambda x: (x[0] == "the core", x[0])):
    print(f"{room:12} {lines:7d} {100 * hit / lines:6.1f} % {branches:9d} {100 * taken / max(1, branches):6.1f} %")
lines, hit, branches, taken = rooms["the core"]
for what, share, asked in (("lines", hit / lines, 0.9), ("branches", taken / branches, 0.8)):
    print(f"{what}: {asked:.0%} asked, {'met' if share >= asked else 'missed'}")
print("most branches not reached:", ", ".join(f"{name} {n}" for n, name in sorted(files, reverse=True)[:8]))
END_OF_PYTHON
