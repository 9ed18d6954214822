// SPDX-License-Identifier: Apache-2.0
#include "job/plan/set_up.hpp"

#include "base/text.hpp"

#include <fmt/format.h>

namespace guidepin::job {

namespace {

using plant::Face;
using plant::KeyRelation;

/// The cords that a plan out of an assumed kit uses, under names that say what they are for.
void name_cords(setup::Question& question, setup::Plan const& plan)
{
    auto const name = [&](setup::CordUse const& use, char const* label) {
        question.kit.cords[static_cast<std::size_t>(use.cord)].id = label;
    };
    if (plan.known) name(*plan.known, "K-1");
    if (plan.extra) name(*plan.extra, plan.arrangement == setup::Arrangement::changer ? "C-1" : "S-1");
    name(plan.launch, "L-1");
    name(plan.tail, "T-1");
}

} // namespace

Result<SetupAnswer> set_up(SetupWords const& words, KitFile const* kit, SetupRules const& rules,
                           KitRulings const& rulings)
{
    for (std::string const& serial : {words.source, words.meter}) {
        std::vector<std::string> const refused = refusals_of({serial}, rulings);
        if (!refused.empty()) return Error{Errc::refused, joined(refused, "\n")};
    }
    std::optional<KitFile> fit;
    if (kit) fit = without_refused(*kit, rulings);
    KitFile const* const used = fit ? &*fit : nullptr;
    SetupAnswer answer;
    auto question = question_of(words, used, *rules.tables);
    setup::Answer found;
    if (question) {
        answer.question = *question;
        TRY_ASSIGN(found, setup::solve(answer.question));
    }
    if (!found.plan && kit) {
        // With what is refused it might be possible: then that is the reason.
        TRY_ASSIGN(setup::Question const whole, question_of(words, kit, *rules.tables));
        TRY_ASSIGN(setup::Answer const with_all, setup::solve(whole, {.look_for_remedy = false}));
        if (with_all.plan) {
            auto serials = cord_serials_of(whole, *with_all.plan);
            serials.push_back(instrument_serial_of(words.source, InstrumentRole::source, kit, whole.cabling));
            serials.push_back(instrument_serial_of(words.meter, InstrumentRole::meter, kit, whole.cabling));
            answer.question = whole;
            answer.none = std::move(found.none);
            answer.unsolved.reason = refused_text(refusals_of(serials, rulings));
            return answer;
        }
    }
    if (!question) return question.error();
    answer.none = std::move(found.none);
    if (!found.plan) {
        TRY_ASSIGN(answer.unsolved, unsolved_of({}, answer.none, answer.question));
        return answer;
    }
    if (!kit) name_cords(answer.question, *found.plan);
    TRY_ASSIGN(SolvedSetup solved, worked_out(answer.question, std::move(*found.plan), rules));
    solved.kit_assumed = kit == nullptr;
    solved.source_serial =
        instrument_serial_of(words.source, InstrumentRole::source, used, answer.question.cabling);
    solved.meter_serial =
        instrument_serial_of(words.meter, InstrumentRole::meter, used, answer.question.cabling);
    solved.decisions = decisions_of(solved, rulings);
    answer.solved = std::move(solved);
    return answer;
}

} // namespace guidepin::job
