# What a package holds, and the package: cpack -G DEB, from the build that users run.
include(GNUInstallDirs)

install(TARGETS afterload afterloadd afterload-guardian RUNTIME DESTINATION ${CMAKE_INSTALL_BINDIR})
file(GLOB schemas ${PROJECT_SOURCE_DIR}/sequences/schemas/*.json ${PROJECT_SOURCE_DIR}/runner/papers/schemas/*.json)
install(FILES ${schemas} DESTINATION ${CMAKE_INSTALL_DATADIR}/afterload/schemas)
file(GLOB shipped ${PROJECT_SOURCE_DIR}/sequences/shipped/*.yaml)
install(FILES ${shipped} DESTINATION ${CMAKE_INSTALL_DATADIR}/afterload/sequences)
install(FILES ${PROJECT_SOURCE_DIR}/sequences/FORMAT.md ${PROJECT_SOURCE_DIR}/runner/daemon/openapi.json
        DESTINATION ${CMAKE_INSTALL_DATADIR}/afterload)

set(parts ${PROJECT_SOURCE_DIR}/ci/package)
install(FILES ${parts}/copyright DESTINATION ${CMAKE_INSTALL_DATADIR}/doc/afterload)
install(FILES ${parts}/afterload.bash DESTINATION ${CMAKE_INSTALL_DATADIR}/bash-completion/completions
        RENAME afterload)
install(FILES ${parts}/daemon.yaml DESTINATION /etc/afterload)
install(FILES ${parts}/afterloadd.service ${parts}/afterload-guardian.socket ${parts}/afterload-guardian@.service
        DESTINATION /lib/systemd/system)
install(FILES ${parts}/afterload.sysusers DESTINATION /usr/lib/sysusers.d RENAME afterload.conf)
# Compressed without a time of day in them: a package is the same bytes each time.
foreach(page afterload.1 afterloadd.8 afterload-guardian.8 changelog)
    if(page MATCHES "\\.([0-9])$")
        set(folder ${CMAKE_INSTALL_MANDIR}/man${CMAKE_MATCH_1})
    else()
        set(folder ${CMAKE_INSTALL_DATADIR}/doc/afterload)
    endif()
    add_custom_command(
        OUTPUT ${CMAKE_BINARY_DIR}/package/${page}.gz
        COMMAND ${CMAKE_COMMAND} -E make_directory ${CMAKE_BINARY_DIR}/package
        COMMAND gzip -9nc ${parts}/${page} > ${CMAKE_BINARY_DIR}/package/${page}.gz
        DEPENDS ${parts}/${page} VERBATIM)
    list(APPEND compressed ${CMAKE_BINARY_DIR}/package/${page}.gz)
    install(FILES ${CMAKE_BINARY_DIR}/package/${page}.gz DESTINATION ${folder})
endforeach()
add_custom_target(package_pages ALL DEPENDS ${compressed})

set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_CONTACT "the afterload authors <authors@afterload.invalid>")
set(CPACK_PACKAGE_DESCRIPTION_SUMMARY "verify a repaired audio amplifier against its rating sheet")
set(CPACK_DEBIAN_PACKAGE_DESCRIPTION
    "Drives a signal source and a sound card with an amplifier on a dummy load,
computes output power, distortion, response and noise, and scores each with
its uncertainty against the rated figures of the unit. A daemon owns the
bench, its queue and its record.")
set(CPACK_DEBIAN_PACKAGE_SECTION sound)
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS ON)
set(CPACK_DEBIAN_PACKAGE_CONTROL_EXTRA ${parts}/postinst ${parts}/prerm ${parts}/conffiles)
set(CPACK_DEBIAN_PACKAGE_CONTROL_STRICT_PERMISSION ON)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_STRIP_FILES ON)
set(CPACK_INSTALL_DEFAULT_DIRECTORY_PERMISSIONS OWNER_READ OWNER_WRITE OWNER_EXECUTE GROUP_READ
    GROUP_EXECUTE WORLD_READ WORLD_EXECUTE)
include(CPack)
