#!/usr/bin/env bash
# Feeds each parser damaged input: tests/fuzz/check.sh [BUILD/relict] [--long]
#
# Builds the targets with clang and runs each from its seeds and from the cases found before
# (found/TARGET, replayed first), 200,000 runs or six minutes, whichever ends first (--long: 5,000,000
# or an hour). What crashes, leaks, is undefined or takes more than ten seconds is left in
# out/fuzz/TARGET (-entropic=0: that schedule takes half the time of a quick parser); once mended, the file goes to found/TARGET and stays.
set -euo pipefail
cd "$(dirname "$0")/../.."
runs=${RELICT_FUZZ_RUNS:-200000} seconds=${RELICT_FUZZ_SECONDS:-360}
[[ " $* " == *" --long "* ]] && runs=5000000 seconds=3600
targets=${RELICT_FUZZ_TARGETS:-csv xlsx project entries outlines scan request calc formula}
if ! command -v clang >/dev/null; then
    echo "clang is not on this machine: nothing was fuzzed"
    exit 1
fi
compiler=clang
command -v ccache >/dev/null && compiler="ccache clang"
[[ -f build-fuzz/build.ninja ]] || CC=$compiler meson setup build-fuzz -Dfuzz=true -Db_sanitize=address,undefined \
    -Db_lundef=false >/dev/null
ninja -C build-fuzz --quiet fuzz
export ASAN_OPTIONS=detect_leaks=1:allocator_may_return_null=1 UBSAN_OPTIONS=halt_on_error=1:print_stacktrace=1
export LSAN_OPTIONS=suppressions=$PWD/tests/leaks.txt:print_suppressions=0

one() {
    local name=$1 found=out/fuzz/$1 dictionary=() known=() log corpus rc=0 most=4096
    [[ $name == project ]] && most=131072
    mkdir -p "$found"
    log=$found/log
    corpus=$(mktemp -d)
    [[ -f tests/fuzz/$name.dict ]] && dictionary=(-dict="tests/fuzz/$name.dict")
    [[ -d tests/fuzz/found/$name ]] && known=("tests/fuzz/found/$name")
    build-fuzz/tests/fuzz/fuzz_"$name" -runs="$runs" -max_total_time="$seconds" -seed=1 -timeout=10 -rss_limit_mb=2048 \
        -max_len="$most" -entropic=0 -print_final_stats=1 -artifact_prefix="$found/" "${dictionary[@]}" "$corpus" \
        "tests/fuzz/seeds/$name" "${known[@]}" >"$log" 2>&1 || rc=$?
    local done reached
    done=$(sed -nE 's/^stat::number_of_executed_units: +([0-9]+).*/\1/p' "$log")
    reached=$(grep -oE 'cov: [0-9]+' "$log" | tail -1 | cut -d' ' -f2)
    printf '%-10s %9s runs  %6s edges reached  %s\n' "$name" "${done:-0}" "${reached:-0}" \
        "$( ((rc)) && echo "FOUND: see $log" || { ((${done:-0} < runs)) && echo "stopped by the clock"; } || true)"
    echo "${done:-0}" >"$found/runs"
    # what a machine without this log has to know: the fault, where, and the input
    ((rc == 0)) || grep -v -e '^#' -e '^0x' "$log" | tail -25 | cut -c1-1000
    rm -rf "$corpus"
    return $rc
}
export -f one
export runs seconds
# two at a time
rc=0
printf '%s\n' $targets | xargs -P 2 -I{} bash -c 'one {}' || rc=1
short=
for name in $targets; do
    done=$(cat out/fuzz/"$name"/runs)
    ((done < runs)) && short="$short $name ($done)"
done
if [[ -n $short ]]; then echo "fell short of $runs runs:$short"; else echo "all reached $runs runs"; fi
exit $rc
