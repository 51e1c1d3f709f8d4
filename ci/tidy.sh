#!/usr/bin/env bash
# clang-tidy 14 with the .clang-tidy at the root, over the sources that ship. Every finding is an
# error. A NOLINT carries its reason.
#
#   ci/tidy.sh BUILD [FILE...]    BUILD is a configured folder (build/dev); FILE limits the work
set -euo pipefail
cd "$(dirname "$0")/.."

[ $# -ge 1 ] || { echo "usage: ci/tidy.sh BUILD [FILE...]" >&2; exit 64; }
build=$1
shift
[ -f "$build/compile_commands.json" ] ||
    { echo "ci/tidy.sh: $build is not configured; run: cmake --preset $(basename "$build")" >&2; exit 64; }

if [ $# -gt 0 ]; then
    files=("$@")
else
    mapfile -t files < <(find analysis instruments sequences runner -name '*.cpp' | sort)
fi
# The commands are those of g++; clang stops at warnings it does not know.
printf '%s\0' "${files[@]}" |
    xargs -0 -n 1 -P "$(nproc)" clang-tidy -p "$build" --quiet --warnings-as-errors='*' \
        --extra-arg=-Wno-unknown-warning-option
