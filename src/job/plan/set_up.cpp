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

KitFile kit_of_settings(Settings const& settings, std::vector<std::string>& remarks)
{
    KitFile kit;
    for (Instrument const& each : settings.instruments) {
        auto const family = plant::parse_family(each.family);
        if (!family) continue;
        KitInstrument instrument;
        instrument.role = each.role == "meter" ? InstrumentRole::meter : InstrumentRole::source;
        instrument.entry.serial = each.id;
        instrument.entry.name = each.description;
        if (auto const day = parse_day(each.calibrated)) instrument.entry.calibrated = *day;
        if (auto const day = parse_day(each.calibration_due)) instrument.entry.calibration_due = *day;
        instrument.port = setup::port_of(*family, each.pins, each.face);
        instrument.wavelengths = {Nanometres{each.face == Face::angled ? 1310 : 850}};
        kit.instruments.push_back(std::move(instrument));
    }
    bool exchangeable = false;
    for (Cord const& each : settings.cords) {
        auto const family = plant::parse_family(each.family);
        if (!family) continue;
        setup::Cord cord = setup::cord_of(each.id, *family, each.pins_near, each.pins_far,
                                          each.exchangeable_pins, each.exchangeable_pins, each.face);
        cord.type = each.type;
        cord.grade = each.grade;
        cord.length = each.length;
        cord.glass = {each.face == Face::angled ? facts::FibreKind::single_mode : facts::FibreKind::multimode,
                      0};
        // The cord of a cord check stands in a job sheet as the substitution cord.
        cord.roles = each.role == "launch" ? setup::Roles::only({setup::Role::launch})
                     : each.role == "tail" ? setup::Roles::only({setup::Role::tail})
                     : each.role == "changer"
                         ? setup::Roles::only({setup::Role::changer, setup::Role::known})
                         : setup::Roles::only({setup::Role::substitution, setup::Role::known});
        exchangeable = exchangeable || each.exchangeable_pins;
        kit.kit.cords.push_back(std::move(cord));
    }
    for (auto const family : {plant::Family::Key::mpo12, plant::Family::Key::mpo16}) {
        kit.kit.adapters.push_back({KeyRelation::opposed, family, 4});
        kit.kit.adapters.push_back({KeyRelation::aligned, family, 4});
        if (exchangeable) kit.kit.pin_tools.push_back({"pin tool", family});
    }
    remarks.emplace_back("The kit is that of the job sheet, which says nothing of fibre and adapters: angled "
                         "cords and ports are "
                         "taken for single-mode, flat ones for multimode, and loose adapters for there. A "
                         "kit file says it all (docs/formats/kit.md).");
    return kit;
}

KitFile kit_of_job(JobState const& state, std::vector<std::string>& remarks)
{
    KitFile kit = kit_now(state);
    if (!kit.instruments.empty()) return kit;
    return kit_of_settings(state.settings, remarks);
}

} // namespace guidepin::job
