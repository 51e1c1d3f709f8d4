#!/usr/bin/env bash
# clang-format 14 with the .clang-format at the root.
#
#   ci/format.sh          prints what is not formatted, changes nothing
#   ci/format.sh --fix    formats
#   ROOT=<folder> ci/format.sh    the same for another tree
set -euo pipefail
cd "${ROOT:-$(dirname "$0")/..}"

case "${1:-}" in
    "") how=(--dry-run -Werror) ;;
    --fix) how=(-i) ;;
    *) echo "usage: ci/format.sh [--fix]" >&2; exit 64 ;;
esac

version=$(clang-format --version | sed -n 's/.*version \([0-9]*\).*/\1/p')
if [ "$version" != 14 ]; then
    echo "ci/format.sh: clang-format is version ${version:-?}; 14 is what the sources are formatted with" >&2
    exit 69
fi
find analysis instruments sequences runner tests \( -name '*.hpp' -o -name '*.cpp' \) -print0 |
    xargs -0 -r -n 40 -P 2 clang-format -style=file "${how[@]}"
