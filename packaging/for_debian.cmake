# SPDX-License-Identifier: Apache-2.0
# CPack runs this on the installed tree, before it makes the .deb: here is what Debian wants in another form than "cmake --install".
set(root "${CPACK_TEMPORARY_DIRECTORY}")
set(documents "${root}/usr/share/doc/guidepin")
set(packaging "${CMAKE_CURRENT_LIST_DIR}")

# gzip writes no name and no time, so the same text gives the same bytes.
function(compress file)
  execute_process(COMMAND gzip -9nf "${file}" COMMAND_ERROR_IS_FATAL ANY)
endfunction()

# Debian keeps the text of the licence once for all packages; each package has a file "copyright" in a fixed form.
file(REMOVE "${documents}/LICENSE")
configure_file("${packaging}/copyright" "${documents}/copyright" COPYONLY FILE_PERMISSIONS OWNER_READ OWNER_WRITE GROUP_READ WORLD_READ)
foreach(headers IN ITEMS libcli11-dev nlohmann-json3-dev)
  set(licence "/usr/share/doc/${headers}/copyright")
  if(NOT EXISTS "${licence}")
    message(FATAL_ERROR "${licence} is missing: the package has to carry the licence of the headers that the program contains. "
      "Install ${headers} again, with its documents.")
  endif()
  configure_file("${licence}" "${documents}/licences/${headers}" COPYONLY FILE_PERMISSIONS OWNER_READ OWNER_WRITE GROUP_READ WORLD_READ)
endforeach()

# Debian's zsh looks for the completions of packages in a folder of their own.
file(MAKE_DIRECTORY "${root}/usr/share/zsh")
file(RENAME "${root}/usr/share/zsh/site-functions" "${root}/usr/share/zsh/vendor-completions")

compress("${root}/usr/share/man/man1/guidepin.1")

# CMake takes this time from SOURCE_DATE_EPOCH.
string(TIMESTAMP day "%a, %d %b %Y %H:%M:%S +0000" UTC)
file(WRITE "${documents}/changelog" "guidepin (${CPACK_DEBIAN_PACKAGE_VERSION}) unstable; urgency=medium

  * Version ${CPACK_DEBIAN_PACKAGE_VERSION}, packaged by tools/package.

 -- ${CPACK_DEBIAN_PACKAGE_MAINTAINER}  ${day}
")
compress("${documents}/changelog")

# Whoever builds may have another umask; the folders of a package are open to all.
file(GLOB_RECURSE all LIST_DIRECTORIES true "${root}/*")
foreach(path IN LISTS all)
  if(IS_DIRECTORY "${path}" OR path STREQUAL "${root}/usr/bin/guidepin")
    file(CHMOD "${path}" PERMISSIONS OWNER_READ OWNER_WRITE OWNER_EXECUTE GROUP_READ GROUP_EXECUTE WORLD_READ WORLD_EXECUTE)
  else()
    file(CHMOD "${path}" PERMISSIONS OWNER_READ OWNER_WRITE GROUP_READ WORLD_READ)
  endif()
endforeach()
