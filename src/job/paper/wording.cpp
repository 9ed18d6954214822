// SPDX-License-Identifier: Apache-2.0
#include "job/paper/wording.hpp"

#include "base/text.hpp"
#include "setup/method.hpp"
#include "verdict/conformity.hpp"

#include <fmt/format.h>

namespace guidepin::job {

std::string decision_rule_text(Settings const& settings)
{
    std::string const percent = number_text(settings.guard_probability * 100);
    char const* const rule = verdict::words_of(settings.decision_rule);
    switch (settings.decision_rule) {
    case verdict::DecisionRule::simple_acceptance:
        break;
    case verdict::DecisionRule::guarded_acceptance:
        return fmt::format("{} (JCGM 106:2012, 8.3.2), p_c at least {} %", rule, percent);
    case verdict::DecisionRule::guarded_rejection:
        return fmt::format("{} (JCGM 106:2012, 8.3.3), p {} %", rule, percent);
    }
    return fmt::format("{} (JCGM 106:2012, 8.2)", rule);
}

std::string decision_rule_sentence(Settings const& settings)
{
    switch (settings.decision_rule) {
    case verdict::DecisionRule::simple_acceptance:
        break;
    case verdict::DecisionRule::guarded_acceptance:
        return "Guarded acceptance (JCGM 106:2012, 8.3.2): a fibre is accepted only when it keeps its limit "
               "by "
               "the guard band.";
    case verdict::DecisionRule::guarded_rejection:
        return "Guarded rejection (JCGM 106:2012, 8.3.3): a fibre is rejected only when it exceeds its limit "
               "by "
               "the guard band.";
    }
    return "Simple acceptance (JCGM 106:2012, 8.2): a fibre conforms when its attenuation is at or below the "
           "limit.";
}

std::string method_words(std::string const& id)
{
    auto const method = setup::parse_reference_method(id);
    return method ? setup::words_of(*method) : id;
}

std::string method_text(Settings const& settings, char const* cords)
{
    return fmt::format("{}, {}-grade {}", setup::words_of(settings.method),
                       facts::name_of(settings.cord_grade), cords);
}

std::string grade_text(facts::CordGrade grade)
{
    return fmt::format("{} grade", facts::name_of(grade));
}

std::string standout_text(LinkStandout const& standout, report::Locale const& locale)
{
    if (standout.whole_link)
        return fmt::format("All fibres together stand {} dB over what links like this show (surprise {})",
                           locale.number(standout.offset_db, 2), locale.number(standout.surprise, 1));
    return fmt::format("{} dB at {}{}, {} nm; links like this show {} to {} dB there (surprise {})",
                       locale.number(standout.value_db, 2), standout.position,
                       standout.from_b ? " from B" : "", standout.wavelength_nm,
                       locale.number(standout.band.low, 2), locale.number(standout.band.high, 2),
                       locale.number(standout.surprise, 1));
}

} // namespace guidepin::job
