#!/usr/bin/env bash
# Numbers under stress: tests/stress/check.sh BUILD/relict [--long]
#
# In check: 20 random projects through the whole job (N = 256), 10,000 through the sizes, 1,000 absurd
# ones, a share of the absurd questions; the same bits on 1, 2 and 8 threads in every step; twice the
# size, mirrored. With --long: 500 projects, 10,000 sizes
# and every absurd question.
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
    two sizes 5000 -- sizes 5000 5001
    two absurd 4000 -- threads 2
    two twice 60 -- projects 250 1
    one projects 250 251
else
    two sizes 5000 -- sizes 5000 5001
    two absurd 1000 -- threads 2
    two projects 10 1 -- projects 10 11
    one twice 12
fi
exit $rc
