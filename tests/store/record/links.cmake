# SPDX-License-Identifier: Apache-2.0
# These tests change what stands in a file behind the program's back.
find_package(SQLite3 REQUIRED)
target_link_libraries(${target} PRIVATE SQLite::SQLite3)
