#!/usr/bin/env bash
# The Debian package: built from a clean clone with `dpkg-buildpackage -us -uc -b`, looked over by
# lintian, installed, used and taken away again without a trace. Installing needs root and is told
# as skipped otherwise. Usage: tests/package/check.sh RELICT (the program that was built before; its version
# must be the package's).
set -euo pipefail
relict=$(realpath "$1")
source=$(realpath "$(dirname "$0")/../..")
skip() { echo "skipped: $*"; exit 0; }
command -v dh >/dev/null || skip "debhelper is not installed (packages.txt, group check)"
[[ -d $source/.git || -f $source/.git ]] || skip "not a git checkout, so no clean clone of it"
bad=0
fault() { echo "FAULT: $*"; bad=$((bad + 1)); }

# One folder always, so that ccache knows the files again.
room=$source/build-package
rm -rf "$room"
mkdir "$room"
trap 'rm -rf "$room"' EXIT
git clone -q "$source" "$room/relict"
[[ -z $(git -C "$source" status --porcelain --untracked-files=no) ]] || echo "note: what is not committed is not in the package"

# ---- build ----
begin=$SECONDS
if command -v ccache >/dev/null; then export CC="ccache gcc" CCACHE_BASEDIR=$room CCACHE_NOHASHDIR=1; fi
(cd "$room/relict" && DEB_BUILD_OPTIONS="parallel=2 nocheck" dpkg-buildpackage -us -uc -b >"$room/build.log" 2>&1) || {
    tail -30 "$room/build.log"
    echo "FAULT: dpkg-buildpackage failed"
    exit 1
}
deb=$(ls "$room"/relict_*.deb)
echo "built $(basename "$deb") in $((SECONDS - begin)) s, $(($(stat -c %s "$deb") / 1024)) kB"
[[ -z $(git -C "$room/relict" status --porcelain --untracked-files=no) ]] || fault "building changed files of the source"
want=$("$relict" --version)
[[ "relict $(dpkg-deb -f "$deb" Version)" == "$want" ]] || fault "the package is $(dpkg-deb -f "$deb" Version), the program $want"

# ---- look over ----
if command -v lintian >/dev/null; then
    root=()
    ((EUID)) || root=(--allow-root)
    # initial-upload-closes-no-bugs: it is in no archive that keeps bugs
    if ! lintian "${root[@]}" --fail-on error,warning --suppress-tags initial-upload-closes-no-bugs "$deb" 2>&1; then fault "lintian"; fi
    echo "lintian: looked over"
fi
dpkg-deb --fsys-tarfile "$deb" | tar -tf - | sed 's,^\.,,' | grep -v '/$' >"$room/files"
for f in /usr/bin/relict /usr/share/man/man1/relict.1.gz /usr/share/doc/relict/copyright; do
    grep -qx "$f" "$room/files" || fault "$f is not in the package"
done
grep -vq '^/usr/' "$room/files" && fault "something lies outside of /usr"
dpkg-deb --fsys-tarfile "$deb" | tar -xOf - ./usr/share/man/man1/relict.1.gz | gunzip >"$room/relict.1"
if command -v man >/dev/null; then
    man --warnings -E UTF-8 -l -Tutf8 "$room/relict.1" >"$room/man.txt" 2>"$room/man.err"
    [[ -s $room/man.err ]] && { cat "$room/man.err"; fault "the manual page"; }
fi
"$relict" help | awk '/^  [a-z]+ /{print $1}' | while read -r c; do
    grep -q "^\.SS $c\$" "$room/relict.1" || { echo "FAULT: the manual page lacks $c"; exit 1; }
done || bad=$((bad + 1))

# ---- install, use, take away ----
if ((EUID)); then
    echo "installing: skipped, this is not root"
elif dpkg-query -W relict >/dev/null 2>&1; then
    echo "installing: skipped, relict is installed on this machine already"
else
    listing() { find /usr /etc /opt /var/lib -xdev \( -path /var/lib/dpkg -o -path /var/lib/apt -o -path '*/__pycache__' \) -prune -o -print 2>/dev/null | sort; }
    listing >"$room/before"
    trap 'dpkg -P relict >/dev/null 2>&1 || true; rm -rf "$room"' EXIT
    dpkg -i "$deb" >"$room/install.log" 2>&1 || { cat "$room/install.log"; fault "dpkg -i failed"; }
    while read -r f; do
        # a machine may be told to leave documents and manuals out (a container's dpkg.cfg)
        [[ -e $f ]] || [[ $f == /usr/share/doc/* || $f == /usr/share/man/* ]] || fault "$f was not installed"
    done < <(dpkg -L relict)
    dpkg -V relict | grep -v ' /usr/share/\(doc\|man\)/' && fault "dpkg -V finds altered files"
    cd "$room"
    [[ $(/usr/bin/relict --version) == "$want" ]] || fault "the installed program does not start"
    /usr/bin/relict new one.relict "One" >/dev/null || fault "the installed program makes no project"
    /usr/bin/relict verify one.relict >/dev/null || fault "the installed program's project does not verify"
    ldd /usr/bin/relict | grep 'not found' && fault "a library is not there"
    dpkg -P relict >"$room/remove.log" 2>&1 || { cat "$room/remove.log"; fault "dpkg -P failed"; }
    trap 'rm -rf "$room"' EXIT
    dpkg-query -W relict >/dev/null 2>&1 && fault "it is still known after removal"
    listing >"$room/after"
    diff "$room/before" "$room/after" | grep '^[<>]' >"$room/left" || true
    # the page on other systems: its commands as typed, with a sudo that is not needed here
    if command -v apt-get >/dev/null; then
        mkdir -p "$room/shim" "$room/state"
        command -v sudo >/dev/null || printf '#!/bin/sh\nexec "$@"\n' >"$room/shim/sudo"
        [[ -f $room/shim/sudo ]] && chmod +x "$room/shim/sudo"
        PATH="$room/shim:$PATH" XDG_STATE_HOME="$room/state" DEBIAN_FRONTEND=noninteractive \
            python3 "$source/tests/docs/run.py" "$source/doc/elsewhere.md" "$room" || fault "doc/elsewhere.md"
        dpkg -P relict >/dev/null 2>&1 || true
        listing >"$room/after"
        diff "$room/before" "$room/after" | grep '^[<>]' >"$room/left" || true
    fi
    # what others did meanwhile is not ours to judge
    if grep -q relict "$room/left"; then
        cat "$room/left"
        fault "something is left behind"
    fi
    echo "installed $(wc -l <"$room/files") files, used, removed: $(grep -c relict "$room/left" || true) left behind"
fi
((bad == 0))
