# AFTERLOAD_SANITIZER: empty, "address" (with undefined behaviour, no recovery) or "thread".
set(AFTERLOAD_SANITIZER "" CACHE STRING "address, thread or empty")
if(AFTERLOAD_SANITIZER STREQUAL "address")
    # Access through a null pointer ends in the address sanitizer as well, and no machine that runs
    # this minds alignment: to look for both first takes a quarter of the time of compiler and tests.
    add_compile_options(-fsanitize=address,undefined -fno-sanitize=null,alignment
                        -fno-sanitize-recover=all -fno-omit-frame-pointer)
    # Half the time of the other linker, sixty times.
    add_link_options(-fsanitize=address,undefined -fuse-ld=gold)
elseif(AFTERLOAD_SANITIZER STREQUAL "thread")
    # Asio's fences are invisible to the thread sanitizer; -Wtsan says so from system headers.
    add_compile_options(-fsanitize=thread -fno-omit-frame-pointer -Wno-tsan)
    add_link_options(-fsanitize=thread)
elseif(NOT AFTERLOAD_SANITIZER STREQUAL "")
    message(FATAL_ERROR "AFTERLOAD_SANITIZER is '${AFTERLOAD_SANITIZER}': write address or thread")
endif()

# A sanitized build is compiled once and run once, so its sources are not optimised; what a run spends
# its time in is.
function(afterload_optimise_sanitized target)
    if(AFTERLOAD_SANITIZER)
        target_compile_options(${target} PRIVATE -O2)
    endif()
endfunction()
