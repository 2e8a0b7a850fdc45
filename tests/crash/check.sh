#!/usr/bin/env bash
# Faults on every n, and kills: tests/crash/check.sh BUILD/relict [--long]
#
# Every allocation, write, sync, name and step of SQL up to the 2,000th fails once, on saving,
# importing, computing, exporting and bringing up to date; the current is cut at each; and a writing
# process is killed 200 times. Every allocation of every open computation fails once (evenly taken
# where that is more than a second of the processor for one). Every place that asks for memory is
# refused once, in every open computation and in the steps of a project up to the making: it must say
# that memory is gone, leave not a block of it behind and the project file as it was to the byte.
# --long: 10,000 kills, every n to 20,000, and every place of the whole job on the invented tray (few
# possible originals and coarse nets).
set -euo pipefail
cd "$(dirname "$0")/../.."
build=$(dirname "${1:-build/relict}")
export RELICT_SOURCE=$PWD CMOCKA_MESSAGE_OUTPUT=TAP RELICT_FAULTS=2000 RELICT_KILLS=200
export LD_LIBRARY_PATH=$PWD/$build${LD_LIBRARY_PATH:+:$LD_LIBRARY_PATH}
[[ " $* " == *" --long "* ]] && RELICT_FAULTS=20000 RELICT_KILLS=10000
"$build"/tests/crash/crash_faults &
faults=$!
rc=0
RELICT_SECONDS=$([[ " $* " == *" --long "* ]] && echo 60 || echo 1) "$build"/tests/crash/crash_calc || rc=1
"$build"/tests/crash/crash_project || rc=1
RELICT_PLACES=1 "$build"/tests/crash/crash_places || rc=1
[[ " $* " == *" --long "* ]] && { RELICT_PLACES=1 RELICT_PLACES_PROJECT=tray RELICT_PLACES_LAST=report \
    "$build"/tests/crash/crash_places || rc=1; }
wait $faults || rc=1
exit $rc
