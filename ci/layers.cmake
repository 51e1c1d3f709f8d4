# Who may include whom. Prints every file that includes what it must not, and what that was.
#
#   cmake -DROOT=<the project> -P ci/layers.cmake
#
# analysis, instruments and sequences are siblings that share only the vocabulary; the vocabulary
# includes only itself; runner alone knows all three; nothing that ships includes a test. Analysis is
# pure: no files, no clock, no logging, no threads.
cmake_minimum_required(VERSION 3.25)
if(NOT ROOT)
    message(FATAL_ERROR "say which project: -DROOT=<folder>")
endif()

# The vocabulary is what its target says it is: the list stands in analysis/CMakeLists.txt alone.
file(READ ${ROOT}/analysis/CMakeLists.txt text)
if(NOT text MATCHES "target_sources\\(([^()]*afterload_vocabulary[^()]*)\\)")
    message(FATAL_ERROR "analysis/CMakeLists.txt: the sources of afterload_vocabulary are not found")
endif()
string(REGEX MATCHALL "[a-z0-9_]+\\.(hpp|cpp)" vocabulary "${CMAKE_MATCH_1}")
list(TRANSFORM vocabulary PREPEND "analysis/")
set(vocabulary_headers ${vocabulary})
list(FILTER vocabulary_headers INCLUDE REGEX "\\.hpp$")
list(LENGTH vocabulary_headers count)
if(count LESS 3)
    message(FATAL_ERROR "analysis/CMakeLists.txt: the headers of afterload_vocabulary are not found")
endif()

# <cstdio> is there for snprintf; what in it touches the world is looked for by name.
set(impure fstream iostream filesystem print ctime time.h thread mutex atomic future
           shared_mutex condition_variable random syncstream unistd.h)

set(found 0)
function(forbid file header why)
    message(NOTICE "${file}: includes ${header}: ${why}")
    set(found 1 PARENT_SCOPE)
endfunction()

file(GLOB_RECURSE sources RELATIVE ${ROOT}
     ${ROOT}/analysis/*.hpp ${ROOT}/analysis/*.cpp ${ROOT}/instruments/*.hpp ${ROOT}/instruments/*.cpp
     ${ROOT}/sequences/*.hpp ${ROOT}/sequences/*.cpp ${ROOT}/runner/*.hpp ${ROOT}/runner/*.cpp)
foreach(source IN LISTS sources)
    string(REGEX REPLACE "/.*" "" layer ${source})
    file(STRINGS ${ROOT}/${source} includes REGEX "^[ \t]*#[ \t]*include")
    foreach(line IN LISTS includes)
        if(line MATCHES "\"([^\"]+)\"")
            set(header ${CMAKE_MATCH_1})
            string(REGEX REPLACE "/.*" "" owner ${header})
            if(NOT header MATCHES "^(analysis|instruments|sequences|runner)/[a-z0-9_/]+\\.hpp$")
                forbid(${source} ${header} "an include is rooted at the project: \"folder/noun.hpp\"")
            elseif(source IN_LIST vocabulary AND NOT header IN_LIST vocabulary_headers)
                forbid(${source} ${header} "the vocabulary includes only itself")
            elseif(layer STREQUAL "runner" OR layer STREQUAL owner)
                continue()
            elseif(owner STREQUAL "analysis" AND header IN_LIST vocabulary_headers)
                continue()
            elseif(owner STREQUAL "analysis")
                forbid(${source} ${header} "${layer} may include of analysis only the vocabulary")
            else()
                forbid(${source} ${header} "${layer} does not know ${owner}")
            endif()
        elseif(line MATCHES "<([^>]+)>" AND layer STREQUAL "analysis"
               AND CMAKE_MATCH_1 IN_LIST impure)
            forbid(${source} "<${CMAKE_MATCH_1}>" "analysis is pure")
        endif()
    endforeach()
    if(layer STREQUAL "analysis")
        file(STRINGS ${ROOT}/${source} calls REGEX
             "(^|[^a-zA-Z0-9_])(printf|fprintf|puts|fputs|putchar|fopen|fwrite|getenv|stderr|stdout)[ ]*[(,)]")
        foreach(line IN LISTS calls)
            if(NOT line MATCHES "^ *//")
                string(STRIP "${line}" line)
                message(NOTICE "${source}: '${line}': analysis is pure")
                set(found 1)
            endif()
        endforeach()
    endif()
endforeach()
if(found)
    message(FATAL_ERROR "a layer includes what it must not")
endif()
