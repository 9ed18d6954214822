# SPDX-License-Identifier: Apache-2.0
# guidepin_room(NAME [APART] [FAST] [USES room...] [LINKS target...]): one library per folder of src/. The room job/state is the
# target guidepin_job_state.
# USES are rooms below (public); LINKS are outside libraries, seen by this room alone. Where GUIDEPIN_MERGE is on, the
# compiler gets several files of a room at once, except in a room whose files stay APART because they use the same names.
# A room that is FAST solves equations for most of its time: there, -O3 is measurably faster than the -O2 of all others.
find_package(fmt REQUIRED)

add_library(guidepin_flags INTERFACE)
target_compile_options(guidepin_flags INTERFACE
  -Wall -Wextra -Wpedantic -Wshadow -Wconversion
  # For every target, because the common headers below serve only targets that are compiled with the same options.
  -pthread
  # Clang means more by -Wconversion than GCC does.
  $<$<CXX_COMPILER_ID:Clang>:-Wno-sign-conversion>
  $<$<BOOL:${GUIDEPIN_WERROR}>:-Werror>)
if(GUIDEPIN_SANITIZE)
  set(GUIDEPIN_SANITIZERS "-fsanitize=address,undefined")
  if(GUIDEPIN_FUZZ)
    # The fuzzers' counters do the other tests no harm: so everything is compiled once for both.
    string(APPEND GUIDEPIN_SANITIZERS ",fuzzer-no-link")
  endif()
  target_compile_options(guidepin_flags INTERFACE ${GUIDEPIN_SANITIZERS} -fno-sanitize-recover=undefined -fno-omit-frame-pointer -g1
    # A target with the property GUIDEPIN_PLAIN is not optimised (tests/CMakeLists.txt says why).
    $<IF:$<BOOL:$<TARGET_PROPERTY:GUIDEPIN_PLAIN>>,-O0,-O1>)
  target_link_options(guidepin_flags INTERFACE ${GUIDEPIN_SANITIZERS})
endif()
# What a distribution expects of a program that reads strangers' files and talks to a network. tests/install/read_binary
# reads the built program and fails where one of these is missing. The sanitizers bring guards of their own, and
# _FORTIFY_SOURCE needs an optimising build.
set(CMAKE_POSITION_INDEPENDENT_CODE ON)
if(NOT GUIDEPIN_SANITIZE)
  include(CheckCXXCompilerFlag)
  check_cxx_compiler_flag(-fcf-protection=full GUIDEPIN_HAS_CF_PROTECTION)
  target_compile_options(guidepin_flags INTERFACE -fstack-protector-strong
    # The program names its source files in errors. Without the folder it was built in, the same source gives the same bytes.
    "-ffile-prefix-map=${PROJECT_SOURCE_DIR}/="
    $<$<BOOL:${GUIDEPIN_HAS_CF_PROTECTION}>:-fcf-protection=full>
    $<$<CONFIG:Release,RelWithDebInfo,MinSizeRel>:-U_FORTIFY_SOURCE>
    $<$<CONFIG:Release,RelWithDebInfo,MinSizeRel>:-D_FORTIFY_SOURCE=2>)
  target_link_options(guidepin_flags INTERFACE -pie LINKER:-z,relro LINKER:-z,now LINKER:-z,noexecstack)
endif()
find_program(LLD ld.lld)
if(LLD)
  target_link_options(guidepin_flags INTERFACE -fuse-ld=lld)
endif()

# What nearly every room includes is compiled once where GUIDEPIN_MERGE is on.
if(GUIDEPIN_MERGE)
  # Without this the compile cache of GCC does not see when these headers change.
  target_compile_options(guidepin_flags INTERFACE $<$<CXX_COMPILER_ID:GNU>:-fpch-preprocess>)
  add_library(guidepin_headers OBJECT "${PROJECT_SOURCE_DIR}/cmake/headers.cpp")
  target_link_libraries(guidepin_headers PRIVATE fmt::fmt guidepin_flags)
  target_precompile_headers(guidepin_headers PRIVATE
    <algorithm> <array> <cmath> <cstdint> <functional> <limits> <map> <memory> <optional> <set> <span> <string>
    <string_view> <tuple> <utility> <variant> <vector> <fmt/format.h>)
endif()

function(guidepin_room room)
  cmake_parse_arguments(arg "APART;FAST" "" "USES;LINKS" ${ARGN})
  file(GLOB_RECURSE sources CONFIGURE_DEPENDS "${CMAKE_CURRENT_SOURCE_DIR}/*.cpp")
  # Folders that are rooms of their own bring their files themselves.
  file(GLOB rooms_within CONFIGURE_DEPENDS "${CMAKE_CURRENT_SOURCE_DIR}/*/CMakeLists.txt")
  foreach(within IN LISTS rooms_within)
    get_filename_component(folder "${within}" DIRECTORY)
    list(FILTER sources EXCLUDE REGEX "^${folder}/")
  endforeach()
  string(REPLACE "/" "_" name "${room}")
  string(REPLACE "/" "_" uses "${arg_USES}")
  list(TRANSFORM uses PREPEND guidepin_)
  if(sources)
    add_library(guidepin_${name} STATIC ${sources})
    target_link_libraries(guidepin_${name} PUBLIC ${uses} fmt::fmt PRIVATE $<BUILD_INTERFACE:guidepin_flags> ${arg_LINKS})
    if(arg_FAST)
      target_compile_options(guidepin_${name} PRIVATE $<$<CONFIG:Release>:-O3>)
    endif()
    if(GUIDEPIN_MERGE AND NOT arg_FAST)
      target_precompile_headers(guidepin_${name} REUSE_FROM guidepin_headers)
    endif()
    if(GUIDEPIN_MERGE AND NOT arg_APART)
      set_target_properties(guidepin_${name} PROPERTIES UNITY_BUILD ON UNITY_BUILD_BATCH_SIZE 12)
    endif()
    target_include_directories(guidepin_${name} PUBLIC
      $<BUILD_INTERFACE:${PROJECT_SOURCE_DIR}/src> $<INSTALL_INTERFACE:${CMAKE_INSTALL_INCLUDEDIR}/guidepin>)
  else()
    add_library(guidepin_${name} INTERFACE)
    target_link_libraries(guidepin_${name} INTERFACE ${uses} fmt::fmt)
    target_include_directories(guidepin_${name} INTERFACE
      $<BUILD_INTERFACE:${PROJECT_SOURCE_DIR}/src> $<INSTALL_INTERFACE:${CMAKE_INSTALL_INCLUDEDIR}/guidepin>)
  endif()
  add_library(guidepin::${name} ALIAS guidepin_${name})
  set_target_properties(guidepin_${name} PROPERTIES EXPORT_NAME ${name})
endfunction()
