#!/bin/sh
# Bundles the parts of three that the 3-D view uses, fetched by npm at the versions of the lock file.
# Without npm, or without a way to the registry, a module is left that says why, and drawn views
# stand in on the screen. Usage: bundle.sh OUTPUT.js FOLDER package.json package-lock.json entry.js
set -eu
out=$1 work=$2 package=$3 lock=$4 entry=$5
without() {
    echo "bundle.sh: no 3-D view: $1" >&2
    printf 'export const missing = "%s";\n' "$1" >"$out"
    exit 0
}
command -v npm >/dev/null 2>&1 && command -v node >/dev/null 2>&1 || without "npm was not there when the program was built."
mkdir -p "$work"
cp "$package" "$work/package.json"
cp "$lock" "$work/package-lock.json"
cp "$entry" "$work/entry.js"
log=$work/log.txt
# The installed tree is kept in the build folder; npm looks at it again only when the lock changes.
if ! cmp -s "$work/package-lock.json" "$work/done.json"; then
    (cd "$work" && npm ci --ignore-scripts --no-audit --no-fund --loglevel=error --fetch-retries=1 --fetch-timeout=60000) >"$log" 2>&1 ||
        without "npm could not fetch it when the program was built."
    cp "$work/package-lock.json" "$work/done.json"
fi
# esbuild's own program, without its install script: it lies in the package for this machine.
tool=$(ls "$work"/node_modules/@esbuild/*/bin/esbuild 2>/dev/null | head -n 1)
[ -x "${tool:-}" ] || without "the bundler has no program for this kind of machine."
"$tool" "$work/entry.js" --bundle --minify --format=esm --target=es2022 --legal-comments=inline --log-level=error --outfile="$out" >"$log" 2>&1 ||
    without "the bundle could not be made when the program was built."
