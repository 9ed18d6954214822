# SPDX-License-Identifier: Apache-2.0
# guidepin_embed(TARGET NAMESPACE FILES...): text files become a table of name and bytes inside the program:
#   std::span<Asset const> NAMESPACE::embedded_assets();      (declared in base/asset.hpp style by the room)
function(guidepin_embed target namespace)
  set(output "${CMAKE_CURRENT_BINARY_DIR}/embedded_assets.cpp")
  add_custom_command(OUTPUT "${output}"
    COMMAND "${CMAKE_COMMAND}" "-DOUTPUT=${output}" "-DNAMESPACE=${namespace}" "-DFILES=${ARGN}"
            -P "${PROJECT_SOURCE_DIR}/cmake/EmbedScript.cmake"
    DEPENDS ${ARGN} "${PROJECT_SOURCE_DIR}/cmake/EmbedScript.cmake"
    VERBATIM)
  target_sources(${target} PRIVATE "${output}")
endfunction()
