#!/usr/bin/env bash
# Every header stands alone. Without an argument: those that no source of their own begins with (the
# format check keeps a source's own header first). `all`: also those, without the precompiled headers
# that could hide what one of them forgot.
set -euo pipefail
cd "$(dirname "$0")/.."

# Without optimisation or debugging data: the objects are thrown away.
cmake -S . -B build/headers -G Ninja -DCMAKE_BUILD_TYPE=Debug -DCMAKE_CXX_FLAGS_DEBUG=-O0 \
    -DCMAKE_VERIFY_INTERFACE_HEADER_SETS=ON -DAFTERLOAD_TESTS=OFF
if [ "${1:-}" = all ]; then
    ninja -C build/headers all_verify_interface_header_sets
    exit
fi
objects=()
while read -r object; do
    header=${object##*_verify_interface_header_sets/}
    header=${header%.cxx.o}
    if [ ! -e "${header%.hpp}.cpp" ]; then objects+=("$object"); fi
done < <(ninja -C build/headers -t targets all |
    sed -n 's/^\(.*_verify_interface_header_sets\.dir.*\.o\): .*/\1/p')
if [ "${#objects[@]}" -eq 0 ]; then
    echo "no header was found to check" >&2
    exit 1
fi
ninja -C build/headers "${objects[@]}"
