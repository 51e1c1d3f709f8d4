# Every source and header is on the list of its folder's CMakeLists.txt: what is on none is never
# built, never tested and never missed. Prints each that is not.
#
#   cmake -DROOT=<the project> -P ci/listed.cmake
cmake_minimum_required(VERSION 3.25)
if(NOT ROOT)
    message(FATAL_ERROR "say which project: -DROOT=<folder>")
endif()

set(found 0)
file(GLOB_RECURSE sources RELATIVE ${ROOT}
     ${ROOT}/analysis/*.[ch]pp ${ROOT}/instruments/*.[ch]pp ${ROOT}/sequences/*.[ch]pp
     ${ROOT}/runner/*.[ch]pp ${ROOT}/tests/*.cpp ${ROOT}/tests/outside/*_test.py)
foreach(source IN LISTS sources)
    cmake_path(GET source PARENT_PATH folder)
    cmake_path(GET source FILENAME name)
    # What several test programs share is on the lists of those programs.
    if(folder STREQUAL "tests/support")
        file(GLOB lists ${ROOT}/tests/*/CMakeLists.txt)
    else()
        set(lists ${ROOT}/${folder}/CMakeLists.txt)
    endif()
    set(text "")
    foreach(list IN LISTS lists)
        if(EXISTS ${list})
            file(READ ${list} more)
            string(REGEX REPLACE "#[^\n]*" "" more "${more}")
            string(APPEND text "${more}")
        endif()
    endforeach()
    string(REPLACE "." "\\." pattern "${name}")
    if(NOT text MATCHES "(^|[^a-zA-Z0-9_])${pattern}($|[^a-zA-Z0-9_])")
        message(NOTICE "${source}: not in ${folder}/CMakeLists.txt")
        set(found 1)
    endif()
endforeach()
if(found)
    message(FATAL_ERROR "a file is on no list")
endif()
