# Several sources of a target in one compilation: what is compiled once, from nothing, spends half its
# time in the same headers again. The dev preset compiles each source alone, as somebody does who works
# on one of them. What it asks for: names in unnamed namespaces differ within a target.
option(AFTERLOAD_TOGETHER "Compile sources of a target together, eight at a time" OFF)

function(afterload_compile_together)
    if(AFTERLOAD_TOGETHER)
        foreach(target IN LISTS ARGN)
            set_target_properties(${target} PROPERTIES UNITY_BUILD ON UNITY_BUILD_BATCH_SIZE 8)
            # It takes each of them for a header.
            target_compile_options(${target} PRIVATE -Wno-subobject-linkage)
        endforeach()
    endif()
endfunction()
