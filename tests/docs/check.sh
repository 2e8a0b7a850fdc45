#!/usr/bin/env bash
# Every command that README.md and doc/ show, run as typed; every picture they name is there and is one
# that a script makes. Usage: tests/docs/check.sh RELICT
set -uo pipefail
here=$(cd "$(dirname "$0")" && pwd)
source=$(realpath "$here/../..")
program=$(realpath "$1")
made=$(mktemp -d)
trap 'rm -rf "$made"' EXIT
mkdir -p "$made/bin" "$made/shown"
ln -s "$program" "$made/bin/relict"
export XDG_STATE_HOME="$made/state"
bad=0
# `relict demo FOLDER` takes a minute: where the check has made it already, it is copied to that place.
if [[ -n ${RELICT_DEMO:-} ]]; then
    rm "$made/bin/relict"
    cat >"$made/bin/relict" <<END
#!/usr/bin/env bash
if [[ \$1 == demo && \$# -ge 2 ]]; then mkdir -p "\$2" && cp -r "$RELICT_DEMO"/. "\$2"; exit; fi
exec "$program" "\$@"
END
    chmod +x "$made/bin/relict"
fi
export PATH="$made/bin:$PATH"
for document in "$source"/doc/guide.md "$source"/README.md "$source"/doc/*.md; do
    name=$(basename "$document" .md)
    [[ $name == elsewhere ]] && continue # run by tests/package, which may install
    [[ $name == guide && -d $made/guide ]] && continue
    room=$made/$name
    mkdir -p "$room"
    if [[ $name != guide ]]; then # pages that speak of a project on hand
        mkdir -p "$room/out/demo" "$room/build"
        relict demo "$made/shown" >/dev/null 2>&1
        cp -r "$made/shown/." "$room/out/demo/"
        cp -r "$made/shown" "$room/demo"
        cp "$made/shown/tray.relict" "$room/FILE"
        cp "$made/shown"/tray.relict-draws-* "$room/" 2>/dev/null
        ln -s "$program" "$room/build/relict"
        ln -s "$source/doc" "$source/tests" "$source/bench" "$room/" 2>/dev/null
    fi
    grep -qE '^( {4})?(relict|build/relict|\./run|echo|cat|doc/|tests/|bench/) ?' "$document" || continue
    /usr/bin/python3 "$here/run.py" "$document" "$room" || bad=1
    rm -rf "$room"/{demo,out,report,FOLDER}
done
for document in "$source"/README.md "$source"/doc/*.md; do
    while read -r picture; do
        [[ $picture == http* ]] && continue
        path=$(dirname "$document")/$picture
        [[ -f $path ]] || { echo "FAULT: $(basename "$document") shows $picture, which is not there"; bad=1; }
        name=$(basename "$picture")
        grep -q " ${name%.*}$" "$source/doc/pictures/make.sh" || grep -rq "$name" "$source"/tests/*/plot.py || {
            echo "FAULT: no script makes $picture"
            bad=1
        }
    done < <(grep -oE '!\[[^]]*\]\([^)]*\)' "$document" | sed 's/.*(\(.*\))/\1/')
done
mkdir "$made/pictures"
project=$made/shown/tray.relict
[[ -f $project ]] || relict demo "$made/shown" >/dev/null
"$source/doc/pictures/make.sh" "$program" "$project" "$made/pictures" || { echo "FAULT: the pictures were not made"; bad=1; }
echo "  pictures: $(ls "$made/pictures" | wc -l) made by the program"
exit $bad
