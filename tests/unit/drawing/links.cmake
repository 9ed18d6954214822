# SPDX-License-Identifier: Apache-2.0
# The font's own metrics are the oracle of our table.
find_package(PkgConfig REQUIRED)
pkg_check_modules(PANGOCAIRO REQUIRED IMPORTED_TARGET pangocairo pangoft2 cairo fontconfig)
target_link_libraries(unit_drawing PRIVATE PkgConfig::PANGOCAIRO)
