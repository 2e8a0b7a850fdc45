#!/usr/bin/env bash
# Numbers under stress: tests/stress/check.sh BUILD/relict [--long]
#
# In check: one random project through the whole job (N = 256; more than a minute of the processor
# each, so 20 do not fit into the time of a check), 1,000 through the sizes, 1,000
# absurd ones; the same bits on 1, 2 and 8 threads (up to the making); twice the size, mirrored.
# With --long: 500 projects, 10,000 through the sizes, every absurd question, threads over the
# whole job.
set -euo pipefail
cd "$(dirname "$0")/../.."
build=$(dirname "${1:-build/relict}")
export RELICT_SOURCE=$PWD LD_LIBRARY_PATH=$PWD/$build${LD_LIBRARY_PATH:+:$LD_LIBRARY_PATH}
rc=0
one() { "$build"/tests/stress/stress "$@" || rc=1; }
two() { # two at once: two A B -- C D
    local first=()
    while [[ $1 != -- ]]; do
        first+=("$1")
        shift
    done
    shift
    "$build"/tests/stress/stress "${first[@]}" &
    local other=$!
    one "$@"
    wait $other || rc=1
}
if [[ " $* " == *" --long "* ]]; then
    two sizes 10000 -- absurd 4000
    two twice 60 -- threads 2
    two projects 250 1 -- projects 250 251
else
    two sizes 1000 -- absurd 1000
    two twice 12 -- threads 1
    one projects 1 1
fi
exit $rc
