#!/usr/bin/env bash
# Numbers under stress: tests/stress/check.sh BUILD/relict [--long]
#
# In check: 20 random projects through the whole job (N = 256), 2,000 through the sizes, 1,000
# absurd ones; the same bits on 1, 2 and 8 threads (up to the making); twice the size, mirrored.
# With --long: 500 projects, 10,000 through the sizes, every absurd question, threads over the
# whole job.
set -euo pipefail
cd "$(dirname "$0")/../.."
build=$(dirname "${1:-build/relict}")
export RELICT_SOURCE=$PWD LD_LIBRARY_PATH=$PWD/$build${LD_LIBRARY_PATH:+:$LD_LIBRARY_PATH}
rc=0
one() { "$build"/tests/stress/stress "$@" || rc=1; }
if [[ " $* " == *" --long "* ]]; then
    one sizes 10000
    one absurd 4000
    one twice 60
    one threads 2
    one projects 500
else
    one sizes 2000 &
    one absurd 1000
    wait
    one twice 12 &
    one threads 1
    wait
    one projects 10 1 &
    one projects 10 11
    wait
fi
exit $rc
