# SPDX-License-Identifier: Apache-2.0
target_link_libraries(unit_job PRIVATE guidepin_simulate)
