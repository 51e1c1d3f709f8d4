# A third-party library has one door: the files named here are the only ones that include it.
# Replacing one, or a fault in one, is then a matter of one file. Prints every file that goes round.
#
#   cmake -DROOT=<the project> -P ci/doors.cmake
#
# tl::expected and fmt are words of everyday use and have none. An outside header that is on no list
# is found too: it needs a door, or a line here.
cmake_minimum_required(VERSION 3.25)
if(NOT ROOT)
    message(FATAL_ERROR "say which project: -DROOT=<folder>")
endif()

set(libraries alsa boost kissfft sndfile yaml-cpp spdlog CLI openssl nlohmann sqlite systemd)
set(prefix_alsa alsa/)
set(door_alsa instruments/card/alsa_messages.cpp instruments/card/card_list.cpp instruments/card/mixer.cpp instruments/card/pcm.cpp
    instruments/card/sample_layout.hpp)
set(prefix_boost boost/)
set(door_boost instruments/async.hpp instruments/async.cpp instruments/steady_clock.cpp
    instruments/guard/guard.cpp instruments/guard/guardian.cpp instruments/guard/main.cpp
    instruments/wire/line.cpp instruments/wire/scpi_server.cpp instruments/wire/usbtmc_line.cpp
    instruments/wire/served_bench.cpp runner/run_to_end.hpp runner/run_until_signal.cpp
    runner/daemon/daemon.cpp runner/daemon/http_server.cpp runner/daemon/http_server.hpp runner/client/daemon_client.cpp)
set(prefix_kissfft kissfft/)
set(door_kissfft analysis/transform.cpp)
set(prefix_sndfile sndfile)
set(door_sndfile instruments/recording.cpp)
set(prefix_yaml-cpp yaml-cpp/)
set(door_yaml-cpp sequences/yaml.cpp)
set(prefix_spdlog spdlog/)
set(door_spdlog runner/log.cpp)
set(prefix_CLI CLI/)
set(door_CLI runner/options.cpp runner/daemon/daemon_options.cpp)
set(prefix_openssl openssl/)
set(door_openssl runner/checksum.cpp runner/base64.cpp)
set(prefix_sqlite sqlite3)
set(door_sqlite runner/record/database.cpp)
set(prefix_systemd systemd/)
set(door_systemd runner/daemon/service_manager.cpp)
set(prefix_nlohmann nlohmann/)
set(door_nlohmann runner/papers/json_text.hpp)

set(found 0)
file(GLOB_RECURSE sources RELATIVE ${ROOT}
     ${ROOT}/analysis/*.hpp ${ROOT}/analysis/*.cpp ${ROOT}/instruments/*.hpp ${ROOT}/instruments/*.cpp
     ${ROOT}/sequences/*.hpp ${ROOT}/sequences/*.cpp ${ROOT}/runner/*.hpp ${ROOT}/runner/*.cpp)
foreach(source IN LISTS sources)
    file(STRINGS ${ROOT}/${source} includes REGEX "^[ \t]*#[ \t]*include[ \t]*<")
    foreach(line IN LISTS includes)
        string(REGEX REPLACE ".*<([^>]+)>.*" "\\1" header "${line}")
        if(header MATCHES "^[a-z_]+$" OR header MATCHES "^[a-z]+(/[a-z]+)*\\.h$" OR header MATCHES "^(tl|fmt)/")
            # the standard library, the system, and what has no door
            if(NOT header MATCHES "^(sndfile|alsa/|sqlite3|systemd/)")
                continue()
            endif()
        endif()
        set(known 0)
        foreach(library IN LISTS libraries)
            string(FIND "${header}" "${prefix_${library}}" at)
            if(at EQUAL 0)
                set(known 1)
                if(NOT source IN_LIST door_${library})
                    list(JOIN door_${library} ", " doors)
                    message(NOTICE "${source}: includes <${header}>: the door to ${library} is ${doors}")
                    set(found 1)
                endif()
            endif()
        endforeach()
        if(NOT known)
            message(NOTICE "${source}: includes <${header}>: a library without a door")
            set(found 1)
        endif()
    endforeach()
endforeach()
if(found)
    message(FATAL_ERROR "a library is included past its door")
endif()
