# SPDX-License-Identifier: Apache-2.0
# The program with its man page and completions, and the library: headers, one archive a room, a CMake package.
# Tried by tests/install: installed to an empty prefix, run there, and built upon.
include(CMakePackageConfigHelpers)

install(FILES LICENSE DESTINATION ${CMAKE_INSTALL_DOCDIR})
string(REPLACE "/" "_" rooms "${GUIDEPIN_ROOMS}")
list(TRANSFORM rooms PREPEND guidepin_)
install(TARGETS ${rooms} EXPORT guidepinTargets ARCHIVE DESTINATION ${CMAKE_INSTALL_LIBDIR}/guidepin)
install(DIRECTORY src/ DESTINATION ${CMAKE_INSTALL_INCLUDEDIR}/guidepin FILES_MATCHING PATTERN "*.hpp")
set(package ${CMAKE_INSTALL_LIBDIR}/cmake/guidepin)
install(EXPORT guidepinTargets NAMESPACE guidepin:: DESTINATION ${package})
configure_file(cmake/guidepinConfig.cmake.in guidepinConfig.cmake @ONLY)
write_basic_package_version_file(guidepinConfigVersion.cmake COMPATIBILITY SameMinorVersion)
install(FILES ${CMAKE_CURRENT_BINARY_DIR}/guidepinConfig.cmake ${CMAKE_CURRENT_BINARY_DIR}/guidepinConfigVersion.cmake
  DESTINATION ${package})

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
install(FILES "${CMAKE_CURRENT_BINARY_DIR}/registry/guidepin.1" DESTINATION ${CMAKE_INSTALL_MANDIR}/man1)
install(FILES "${CMAKE_CURRENT_BINARY_DIR}/registry/guidepin" DESTINATION ${CMAKE_INSTALL_DATADIR}/bash-completion/completions)
install(FILES "${CMAKE_CURRENT_BINARY_DIR}/registry/_guidepin" DESTINATION ${CMAKE_INSTALL_DATADIR}/zsh/site-functions)
install(FILES "${CMAKE_CURRENT_BINARY_DIR}/registry/guidepin.fish" DESTINATION ${CMAKE_INSTALL_DATADIR}/fish/vendor_completions.d)
