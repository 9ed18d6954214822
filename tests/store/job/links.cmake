# SPDX-License-Identifier: Apache-2.0
# A file system under SQLite that fails where a test says so.
find_package(SQLite3 REQUIRED)
target_sources(${target} PRIVATE "${PROJECT_SOURCE_DIR}/tests/support/fault_file_system.cpp")
target_link_libraries(${target} PRIVATE SQLite::SQLite3)
