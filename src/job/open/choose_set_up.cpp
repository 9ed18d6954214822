// SPDX-License-Identifier: Apache-2.0
#include "job/open/choose_set_up.hpp"

#include "base/text.hpp"
#include "job/kit/kit_register.hpp"
#include "job/plan/set_up_sheet.hpp"

namespace guidepin::job {

Result<std::string> choose(Job& job, SetupGroup const& group, setup::Day today)
{
    SolvedSetup const& solved = group.setup;
    KitFile items; // those of this set-up alone
    for (auto const& [serial, role] : {std::pair{solved.source_serial, InstrumentRole::source},
                                       std::pair{solved.meter_serial, InstrumentRole::meter}}) {
        KitInstrument instrument;
        instrument.role = role;
        instrument.entry.serial = serial;
        items.instruments.push_back(std::move(instrument));
    }
    for (std::string const& serial : cord_serials_of(solved.question, solved.plan))
        items.kit.cords.push_back({.id = serial, .ends = {}, .category = {}, .glass = {}, .roles = {}});
    std::vector<std::string> const refused =
        refusals_of(serials_of(solved), kit_rulings(items, &job.state(), today));
    if (!refused.empty()) return Error{Errc::refused, joined(refused, "\n")};
    TRY_ASSIGN(std::string body, setup_body(sheet_of(solved, &group)));
    return job.choose_setup(std::move(body));
}

} // namespace guidepin::job
