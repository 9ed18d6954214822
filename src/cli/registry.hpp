// SPDX-License-Identifier: Apache-2.0
// Each command has its own file and names its row here.
#pragma once

#include "cli/command.hpp"

namespace guidepin::cli {

extern Command const new_command;
extern Command const schedule_command;
extern Command const kit_command;
extern Command const setup_command;
extern Command const reference_command;
extern Command const cord_check_command;
extern Command const reference_event_command;
extern Command const readings_command;
extern Command const withdraw_command;
extern Command const verdicts_command;
extern Command const explain_command;
extern Command const watch_command;
extern Command const trust_command;
extern Command const applications_command;
extern Command const report_command;
extern Command const audit_command;
extern Command const findings_command;
extern Command const acknowledge_command;
extern Command const export_command;
extern Command const check_command;
extern Command const rebuild_command;
extern Command const facts_command;
extern Command const limit_command;
extern Command const predict_command;
extern Command const map_command;
extern Command const simulate_command;
extern Command const serve_command;
extern Command const manual_command;
extern Command const completions_command;

} // namespace guidepin::cli
