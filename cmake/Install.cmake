# SPDX-License-Identifier: Apache-2.0
# Two components. "program": the program, its man page, completions, licence, user service, JSON schemas and the file formats
# that its help names. "library": headers, one archive a room, and a CMake package for programs that are built on them.
# "cmake --install" installs both; the Debian package holds the program alone (cmake/Package.cmake).
# tests/install installs both to an empty prefix, runs the program there and builds a small program on the library.
include(CMakePackageConfigHelpers)

string(REPLACE "/" "_" rooms "${GUIDEPIN_ROOMS}")
list(TRANSFORM rooms PREPEND guidepin_)
install(TARGETS ${rooms} EXPORT guidepinTargets ARCHIVE DESTINATION ${CMAKE_INSTALL_LIBDIR}/guidepin COMPONENT library)
install(DIRECTORY src/ DESTINATION ${CMAKE_INSTALL_INCLUDEDIR}/guidepin COMPONENT library FILES_MATCHING PATTERN "*.hpp" PATTERN "*.inc")
set(package ${CMAKE_INSTALL_LIBDIR}/cmake/guidepin)
install(EXPORT guidepinTargets NAMESPACE guidepin:: DESTINATION ${package} COMPONENT library)
configure_file(cmake/guidepinConfig.cmake.in guidepinConfig.cmake @ONLY)
write_basic_package_version_file(guidepinConfigVersion.cmake COMPATIBILITY SameMinorVersion)
install(FILES ${CMAKE_CURRENT_BINARY_DIR}/guidepinConfig.cmake ${CMAKE_CURRENT_BINARY_DIR}/guidepinConfigVersion.cmake
  DESTINATION ${package} COMPONENT library)

install(FILES LICENSE DESTINATION ${CMAKE_INSTALL_DOCDIR} COMPONENT program)
install(DIRECTORY docs/formats docs/methods DESTINATION ${CMAKE_INSTALL_DOCDIR} COMPONENT program FILES_MATCHING PATTERN "*.md")
install(DIRECTORY docs/schemas DESTINATION ${CMAKE_INSTALL_DATADIR}/guidepin COMPONENT program FILES_MATCHING PATTERN "*.json")
# systemd looks here under /usr and under /usr/local.
install(FILES packaging/guidepin@.service DESTINATION lib/systemd/user COMPONENT program)

# What the registry of commands says, as files.
set(made "")
foreach(row IN ITEMS "manual|guidepin.1" "completions bash|guidepin" "completions zsh|_guidepin" "completions fish|guidepin.fish")
  string(REPLACE "|" ";" row "${row}")
  list(GET row 0 words)
  list(GET row 1 file)
  separate_arguments(words)
  set(output "${CMAKE_CURRENT_BINARY_DIR}/registry/${file}")
  add_custom_command(OUTPUT "${output}" COMMAND ${CMAKE_COMMAND} -E make_directory "${CMAKE_CURRENT_BINARY_DIR}/registry"
    COMMAND guidepin ${words} > "${output}" DEPENDS guidepin VERBATIM)
  list(APPEND made "${output}")
endforeach()
add_custom_target(registry_files ALL DEPENDS ${made})
install(FILES "${CMAKE_CURRENT_BINARY_DIR}/registry/guidepin.1" DESTINATION ${CMAKE_INSTALL_MANDIR}/man1 COMPONENT program)
install(FILES "${CMAKE_CURRENT_BINARY_DIR}/registry/guidepin" DESTINATION ${CMAKE_INSTALL_DATADIR}/bash-completion/completions COMPONENT program)
install(FILES "${CMAKE_CURRENT_BINARY_DIR}/registry/_guidepin" DESTINATION ${CMAKE_INSTALL_DATADIR}/zsh/site-functions COMPONENT program)
install(FILES "${CMAKE_CURRENT_BINARY_DIR}/registry/guidepin.fish" DESTINATION ${CMAKE_INSTALL_DATADIR}/fish/vendor_completions.d COMPONENT program)
