# SPDX-License-Identifier: Apache-2.0
# Each header of src/ compiles alone: one unit a header, which includes nothing else. A unit that fails names a header that relies
# on what its includers include; the remedy is to include in it what it uses.
# The headers of libraries come precompiled, or this would take as long as the program; that a header includes those that it uses is
# checked in words, by tools/check_headers.
find_package(PkgConfig REQUIRED)
pkg_check_modules(HEADERS_ALONE REQUIRED IMPORTED_TARGET pangocairo libsodium xlsxwriter libqrencode)
file(GLOB_RECURSE headers RELATIVE "${PROJECT_SOURCE_DIR}/src" CONFIGURE_DEPENDS "${PROJECT_SOURCE_DIR}/src/*.hpp")
set(units "")
set(libraries "")
foreach(header IN LISTS headers)
  set(unit "${PROJECT_BINARY_DIR}/header_alone/${header}.cpp")
  file(CONFIGURE OUTPUT "${unit}" CONTENT "#include \"${header}\" // has to include itself what it uses\n")
  list(APPEND units "${unit}")
  file(STRINGS "${PROJECT_SOURCE_DIR}/src/${header}" named REGEX "^#include <")
  list(APPEND libraries ${named})
endforeach()
list(TRANSFORM libraries REPLACE "^#include (<[^>]*>).*" "\\1")
list(REMOVE_DUPLICATES libraries)
add_library(each_header_alone OBJECT ${units})
target_include_directories(each_header_alone PRIVATE "${PROJECT_SOURCE_DIR}/src")
target_link_libraries(each_header_alone PRIVATE fmt::fmt PkgConfig::HEADERS_ALONE)
target_compile_options(each_header_alone PRIVATE -g0 -w)
target_precompile_headers(each_header_alone PRIVATE ${libraries})
set_target_properties(each_header_alone PROPERTIES UNITY_BUILD OFF)
