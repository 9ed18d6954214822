// SPDX-License-Identifier: Apache-2.0
// Empty: the build needs one file for which to compile the headers that the rooms share (Rooms.cmake).
