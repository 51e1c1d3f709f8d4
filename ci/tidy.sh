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
# The commands are those of g++; clang stops at options and warnings it does not know.
commands=$(mktemp -d)
trap 'rm -rf "$commands"' EXIT
sed 's/ -fcx-limited-range//g' "$build/compile_commands.json" >"$commands/compile_commands.json"
tidy() {
    local checks=$1
    shift
    [ $# -eq 0 ] || printf '%s\0' "$@" |
        xargs -0 -n 1 -P "$(nproc)" clang-tidy -p "$commands" --quiet --checks="$checks" \
            --extra-arg=-Wno-unknown-warning-option
}
# The analyzer of clang 14 does not follow a coroutine's frame: it takes every await for a use of
# memory that nobody set. The other checks read those files too.
coroutines=() plain=()
for file in "${files[@]}"; do
    if grep -q 'co_await\|co_return' "$file"; then
        coroutines+=("$file")
    else
        plain+=("$file")
    fi
done
status=0
tidy '' "${plain[@]}" || status=1
tidy '-clang-analyzer-*' "${coroutines[@]}" || status=1
exit $status
