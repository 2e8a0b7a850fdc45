#!/usr/bin/env bash
# How much of the core the checks reach: tests/coverage/measure.sh [--quick]
#
# Builds with counters (build-coverage), runs the unit tests, the published values, every place that
# asks for memory refused once, failing files, open computations and finds with nonsense in them and
# a random project through the whole job; prints a table by room: lines (asked: 90 %), branches
# (asked: 80 %). --quick: the unit tests alone. Takes half an hour of the processor; each part may
# take RELICT_COVERAGE_SECONDS (1800) at most, and one that takes longer is told and left.
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
most=${RELICT_COVERAGE_SECONDS:-1800}
: >out/coverage.log

# Runs a part; says how long it took, and when it failed or was left.
part() { # name, command...
    local name=$1 begin=$SECONDS rc=0
    shift
    timeout "$most" "$@" >>out/coverage.log 2>&1 || rc=$?
    ((rc == 0)) || echo "$name: $( ((rc == 124)) && echo "left after $most s" || echo "faults"), see out/coverage.log"
    echo "$name: $((SECONDS - begin)) s"
}

part "unit tests" meson test -C $build --suite unit --no-rebuild -q --timeout-multiplier 20
if [[ " $* " != *" --quick "* ]]; then
    part "published values" meson test -C $build --suite against --no-rebuild -q --timeout-multiplier 20
    RELICT_PLACES=1 RELICT_PLACES_LAST=report part "places that ask for memory" $build/tests/crash/crash_places
    RELICT_FAULTS=50 part "failing files" $build/tests/crash/crash_faults
    part "random finds" $build/tests/stress/stress sizes 50
    part "nonsense" $build/tests/stress/stress absurd 400
    part "a whole project" $build/tests/stress/stress projects 1
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
