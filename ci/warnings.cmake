# The warnings every target of ours is built with. Each is there for a mistake it has caught or would
# catch here. Errors are switched on by the presets, so that a newer compiler never breaks a user.
add_library(afterload_warnings INTERFACE)
target_compile_options(
    afterload_warnings
    INTERFACE
        -Wall -Wextra -Wpedantic
        -Wshadow                # two things of one name: the wrong one is used
        -Wconversion            # a double cut to a float, a count to an int
        -Wsign-conversion       # a negative count turned huge
        -Wold-style-cast        # a cast that hides what it does
        -Wnon-virtual-dtor      # an instrument destroyed by half
        -Woverloaded-virtual    # an override that overrides nothing
        -Wdouble-promotion      # float arithmetic where double is meant
        -Wimplicit-fallthrough
        -Wsuggest-override)
if(CMAKE_CXX_COMPILER_ID STREQUAL "GNU")
    target_compile_options(
        afterload_warnings
        INTERFACE
            -Wduplicated-cond       # the second branch is dead
            -Wduplicated-branches   # copied and not changed
            -Wlogical-op            # || where && is meant
            -Wno-error=restrict     # g++ 12 reports it wrongly for string concatenation at -O2
            -Wno-mismatched-new-delete   # g++ 12 on the frames of Asio's coroutines at -O2
            -Wno-error=stringop-overflow # the same
            -Wno-error=array-bounds)     # the same
endif()
