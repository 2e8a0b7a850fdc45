#!/usr/bin/env bash
# check.sh BINARY: what the served program is from outside: how it was compiled, where it listens with and
# without --share, what it prints, and that it ends when told, leaving nothing behind. With doc/server.md.
set -euo pipefail
program=$(realpath "${1:?usage: check.sh BINARY}")
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
export XDG_STATE_HOME=$work/state TMPDIR=$work
bad=0
fault() { echo "not ok: $*"; bad=$((bad + 1)); }

# ---- compiled so that a slip does the least harm ----
head=$(readelf -hldW "$program")
grep -q 'Type: *DYN (Position-Independent Executable file)' <<<"$head" || fault "not position-independent"
grep -q 'GNU_RELRO' <<<"$head" || fault "no RELRO"
grep -qE 'BIND_NOW|FLAGS_1.*NOW' <<<"$head" || fault "symbols are bound late"
grep -E 'GNU_STACK' <<<"$head" | grep -q 'RW ' || fault "the stack can be run"
signs=$(nm -D "$program")
grep -q '__stack_chk_fail' <<<"$signs" || fault "no guard on the stack"
grep -q '__memcpy_chk\|__snprintf_chk\|__fprintf_chk' <<<"$signs" || fault "not fortified"
echo "  compiled: position-independent, RELRO, bound at once, no running stack, stack guard, fortified"

# ---- where it listens ----
"$program" new "$work/p.relict" "Listening" >/dev/null
# Addresses a process listens on: its sockets by number, looked up in the kernel's tables.
listens() { # PID
    local socket
    for socket in $(find "/proc/$1/fd" -lname 'socket:*' -printf '%l\n' | tr -dc '0-9\n'); do
        awk -v s="$socket" '$4 == "0A" && $10 == s { sub(/:.*/, "", $2); print $2 }' /proc/net/tcp /proc/net/tcp6
    done | sort -u | xargs
}
here4=0100007F here6=00000000000000000000000001000000 any4=00000000
try() { # WANTED-WORDS OPTIONS...
    local want=$1 pid at i
    shift
    "$program" serve "$work/p.relict" --quiet "$@" >"$work/told" 2>&1 &
    pid=$!
    for ((i = 0; i < 100; i++)); do
        grep -q '#key=' "$work/told" && break
        sleep 0.1
    done
    at=$(listens $pid)
    case $want in
    alone) [[ $at == "$here4" || $at == "$here6 $here4" || $at == "$here4 $here6" ]] || fault "serve listens at $at" ;;
    shared) [[ " $at " == *" $any4 "* ]] || fault "serve --share listens at $at" ;;
    esac
    grep -qE '^Open in a browser: +http://127\.0\.0\.1:[0-9]+/#key=[0-9a-f]{32}$' "$work/told" || fault "no address is printed"
    grep -q '^Stop with' "$work/told" || fault "how to stop it is not printed"
    if [[ $want == shared ]] && grep -q '^To look' "$work/told"; then
        grep -q '^To enter' "$work/told" || fault "no address to enter by"
        grep -q '█' "$work/told" || fault "no sign for a phone"
        [[ $(grep -oE '#key=[0-9a-f]{32}' "$work/told" | sort -u | wc -l) == 3 ]] || fault "keys to look, to enter and one's own are not three"
    fi
    kill -TERM $pid
    for ((i = 0; i < 100; i++)); do
        kill -0 $pid 2>/dev/null || break
        sleep 0.1
    done
    if kill -0 $pid 2>/dev/null; then
        fault "it does not end"
        kill -KILL $pid
    fi
    wait $pid || true
    echo "  serve ${*:-alone}: listens at ${at:-nothing}"
}
try alone
try shared --share
left=$(find "$work" -mindepth 1 -maxdepth 1 -name 'relict-*')
[[ -z $left ]] || fault "left behind: $left"
echo "serve from outside: $bad faults"
exit $((bad > 0))
