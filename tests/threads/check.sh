#!/usr/bin/env bash
# No data race and no use of memory that was not set: tests/threads/check.sh BUILD/relict [--long]
#
# In check: the parallel parts (rows, base, shell) under ThreadSanitizer, built for it; the record and
# the readers under valgrind, which sees uninitialised memory that the sanitizers do not. With --long:
# a whole project on 1, 2 and 8 threads under ThreadSanitizer, and every unit test under valgrind.
set -euo pipefail
cd "$(dirname "$0")/../.."
build=$(dirname "${1:-build/relict}")
export RELICT_SOURCE=$PWD CMOCKA_MESSAGE_OUTPUT=TAP TSAN_OPTIONS="halt_on_error=0:exitcode=66:suppressions=$PWD/tests/threads/tsan.txt"
compiler=gcc
command -v ccache >/dev/null && compiler="ccache gcc"
[[ -f build-tsan/build.ninja ]] || CC=$compiler meson setup build-tsan -Db_sanitize=thread -Db_lundef=false >/dev/null
races=(rows base shell)
mkdir -p out
ninja -C build-tsan --quiet tests/stress/stress "${races[@]/#/tests/unit/unit_}"
rc=0
say() { # name, exit code
    echo "$1: $( (($2)) && echo "FAILED" || echo clean)"
    (($2 == 0)) || rc=1
}
for t in "${races[@]}"; do
    code=0
    LD_LIBRARY_PATH=build-tsan build-tsan/tests/unit/unit_"$t" >out/tsan.log 2>&1 || code=$?
    say "threads: $t" $code
    ((code == 0)) || grep -A12 'WARNING: ThreadSanitizer' out/tsan.log | head -40
done
memory=(project import forms)
if [[ " $* " == *" --long "* ]]; then
    code=0
    LD_LIBRARY_PATH=build-tsan build-tsan/tests/stress/stress threads 1 || code=$?
    say "threads: a project on 1, 2, 8 threads" $code
    memory=($(cd "$build"/tests/unit && ls | sed -n 's/^unit_\([a-z_]*\)$/\1/p'))
fi
for t in "${memory[@]}"; do
    code=0
    LD_LIBRARY_PATH=$build valgrind --quiet --error-exitcode=77 --leak-check=no \
        "$build"/tests/unit/unit_"$t" >out/valgrind.log 2>&1 || code=$?
    say "valgrind: $t" $code
    ((code == 0)) || grep -A12 '^==' out/valgrind.log | head -40
done
exit $rc
