#!/usr/bin/env bash
# The user stories, each with its numbers, told to the program as a person would and answered by it.
# Usage: check.sh RELICT
set -euo pipefail
exec python3 "$(dirname "$0")/stories.py" "$(realpath "$1")"
