#!/usr/bin/env bash
# Is README.md what the tests say? The build folder is that of the program given: tests/against/check.sh BUILD/relict
exec "$(dirname "$0")"/gather.py "$(dirname "$1")"
