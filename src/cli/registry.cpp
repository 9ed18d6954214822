// SPDX-License-Identifier: Apache-2.0
// The one list of commands, in the order of a working day.
#include "cli/registry.hpp"

#include <array>

namespace guidepin::cli {

std::span<Command const> commands()
{
    static std::array const all{
        new_command,
        schedule_command,
        kit_command,
        setup_command,
        reference_command,
        cord_check_command,
        reference_event_command,
        readings_command,
        withdraw_command,
        verdicts_command,
        watch_command,
        trust_command,
        explain_command,
        findings_command,
        acknowledge_command,
        applications_command,
        report_command,
        audit_command,
        export_command,
        check_command,
        rebuild_command,
        facts_command,
        limit_command,
        predict_command,
        map_command,
        simulate_command,
        serve_command,
        manual_command,
        completions_command,
    };
    return all;
}

} // namespace guidepin::cli
