// SPDX-License-Identifier: Apache-2.0
// Empty: the build needs one file for which to compile the headers that all tests share
// (tests/CMakeLists.txt).
