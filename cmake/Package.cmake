# SPDX-License-Identifier: Apache-2.0
# What CPack is to put into the Debian package: the program and what belongs to it, without the library for developers.
# tools/package runs CPack; packaging/for_debian.cmake gives the files the form that Debian expects.
set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_NAME guidepin)
set(CPACK_PACKAGE_CONTACT "Guidepin <guidepin@example.invalid>")
set(CPACK_INSTALL_CMAKE_PROJECTS "${CMAKE_CURRENT_BINARY_DIR};guidepin;program;/")
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_STRIP_FILES ON)
set(CPACK_PRE_BUILD_SCRIPTS "${CMAKE_CURRENT_SOURCE_DIR}/packaging/for_debian.cmake")

set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_VERSION ${PROJECT_VERSION})
set(CPACK_DEBIAN_PACKAGE_MAINTAINER "${CPACK_PACKAGE_CONTACT}")
set(CPACK_DEBIAN_PACKAGE_SECTION science)
set(CPACK_DEBIAN_PACKAGE_PRIORITY optional)
set(CPACK_DEBIAN_COMPRESSION_TYPE xz)
set(CPACK_DEBIAN_PACKAGE_CONTROL_STRICT_PERMISSION ON)
# dpkg-shlibdeps adds the libraries. The documents are set in B612; fontconfig brings letters for other scripts.
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS ON)
set(CPACK_DEBIAN_PACKAGE_DEPENDS fonts-b612)
set(CPACK_PACKAGE_DESCRIPTION_SUMMARY "certifies multi-fibre (MPO) optical cabling")
set(CPACK_DEBIAN_PACKAGE_DESCRIPTION
"Guidepin takes in the schedule of a cabling job, the references, the cord
checks and the readings of light source and power meter. It computes each
limit with its sources, judges every fibre, says what is wrong with a link,
and writes a package of certificates that rests on signed records.

It works at the command line and, with 'guidepin serve', in a browser.")
include(CPack)
