# SPDX-License-Identifier: Apache-2.0
# The encoder whose codes are read back.
find_package(PkgConfig REQUIRED)
pkg_check_modules(QRENCODE REQUIRED IMPORTED_TARGET libqrencode)
target_link_libraries(unit_web PRIVATE PkgConfig::QRENCODE)
