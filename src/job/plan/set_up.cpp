// SPDX-License-Identifier: Apache-2.0
#include "job/plan/set_up.hpp"

#include "base/text.hpp"
#include "job/groundwork/references.hpp"
#include "job/plan/set_up_sheet.hpp"
#include "job/sheet/locale.hpp"
#include "job/state/link_limits.hpp"
#include "plant/presets.hpp"
#include "setup/ways_out.hpp"
#include "verdict/attenuation.hpp"
#include "verdict/cord_check.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <set>
#include <tuple>

#include <fmt/format.h>

namespace guidepin::job {

std::vector<std::string> cord_serials_of(setup::Question const& question, setup::Plan const& plan)
{
    std::vector<std::string> serials;
    for (auto const& use : {std::optional(plan.launch), std::optional(plan.tail), plan.extra, plan.known}) {
        if (!use || use->cord < 0) continue;
        std::string const& id = question.kit.cords[static_cast<std::size_t>(use->cord)].id;
        if (std::find(serials.begin(), serials.end(), id) == serials.end()) serials.push_back(id);
    }
    return serials;
}

std::vector<std::string> serials_of(SolvedSetup const& solved)
{
    std::vector<std::string> serials = cord_serials_of(solved.question, solved.plan);
    serials.push_back(solved.source_serial);
    if (solved.meter_serial != solved.source_serial) serials.push_back(solved.meter_serial);
    return serials;
}

std::vector<std::string> refusals_of(std::vector<std::string> const& serials, KitRulings const& rulings)
{
    std::vector<std::string> texts;
    for (std::string const& serial : serials) {
        auto const found = rulings.find(serial);
        if (found == rulings.end()) continue;
        texts.insert(texts.end(), found->second.refused.begin(), found->second.refused.end());
    }
    return texts;
}

namespace {

using plant::Face;
using plant::KeyRelation;
using plant::Pins;

constexpr std::array all_arrangements{setup::Arrangement::one_cord, setup::Arrangement::changer,
                                      setup::Arrangement::two_cord, setup::Arrangement::three_cord};

Error usage(std::string text)
{
    return Error{Errc::usage, std::move(text)};
}

/// "a,b" as two words; one word stands for both.
Result<std::array<std::string, 2>> two_words(std::string const& text, char const* what)
{
    auto const parts = split(text, ',');
    if (parts.empty() || parts.size() > 2 || trimmed(parts.front()).empty())
        return usage(
            fmt::format("{}: \"{}\" is not one word for both ends, or two with a comma between", what, text));
    return std::array{std::string(trimmed(parts.front())), std::string(trimmed(parts.back()))};
}

/// An instrument of this kind whose port fits: same family and fibre; the same face where there is one.
KitInstrument const* fitting(KitFile const& kit, InstrumentRole role, plant::ConnectorEnd const& plug,
                             facts::FibreKind kind)
{
    KitInstrument const* second_best = nullptr;
    for (KitInstrument const& each : kit.instruments) {
        plant::ConnectorEnd const& port = each.port.face;
        if (each.role != role || port.family.key != plug.family.key || !each.serves(kind)) continue;
        if (port.family == plug.family && port.face == plug.face) return &each;
        if (!second_best) second_best = &each;
    }
    return second_best;
}

KitInstrument const* by_serial(KitFile const* kit, InstrumentRole role, std::string const& serial)
{
    if (!kit) return nullptr;
    for (KitInstrument const& each : kit->instruments) {
        if (each.role == role && each.entry.serial == serial) return &each;
    }
    return nullptr;
}

Result<setup::Port> port_of_word(std::string const& word, InstrumentRole role, KitFile const* kit,
                                 setup::Cabling const& cabling)
{
    char const* const option = name_of(role);
    if (word.empty()) {
        plant::ConnectorEnd const& plug = cabling.first.plug;
        if (auto const* const found = kit ? fitting(*kit, role, plug, cabling.glass.kind) : nullptr)
            return found->port;
        return usage(kit ? fmt::format("--{}: the kit has no {} with an {} port for {} fibre; say its pins: "
                                       "pinned or unpinned",
                                       option, option, plug.family.name(), facts::name_of(cabling.glass.kind))
                         : fmt::format("--{} is missing: pinned or unpinned, as its port is", option));
    }
    if (auto const* const named = by_serial(kit, role, word)) return named->port;
    auto const pins = plant::parse_pins(word);
    if (!pins)
        return usage(fmt::format("--{}: \"{}\" is neither pinned nor unpinned{}", option, word,
                                 kit ? ", nor the serial of one in the kit" : ""));
    if (*pins == Pins::neutral && role == InstrumentRole::source)
        return usage("--source: only a meter's port can be neutral, because it does not touch the plug");
    return setup::port_of(cabling.first.plug.family, *pins, cabling.first.plug.face);
}

std::string serial_of(std::string const& word, InstrumentRole role, KitFile const* kit,
                      setup::Cabling const& cabling)
{
    if (!kit) return {};
    if (word.empty()) {
        auto const* const found = fitting(*kit, role, cabling.first.plug, cabling.glass.kind);
        return found ? found->entry.serial : std::string();
    }
    return by_serial(kit, role, word) ? word : std::string();
}

Result<setup::Cabling> cabling_of(SetupWords const& words, facts::Tables const& tables)
{
    auto const or_else = [](std::string const& word, char const* fallback) {
        return word.empty() ? std::string(fallback) : word;
    };
    setup::Cabling cabling;
    if (words.cabling.empty())
        return usage("--cabling is missing: the pins of its two ends, such as unpinned,unpinned");
    if (words.cabling.find(',') == std::string::npos)
        return usage(fmt::format(
            "--cabling: \"{0}\" names one end; name both, the launch end first, as {0},{0}", words.cabling));
    TRY_ASSIGN(auto const pins, two_words(words.cabling, "--cabling"));
    TRY_ASSIGN(auto const fittings, two_words(or_else(words.adapters, "opposed,opposed"), "--adapters"));
    TRY_ASSIGN(auto const names, two_words(or_else(words.names, "A,B"), "--names"));
    auto const family = plant::parse_family(or_else(words.family, "mpo-12"));
    if (!family || family->key == plant::Family::Key::duplex)
        return usage(
            fmt::format("--family: \"{}\" is not one of mpo-12, mpo-16, mpo-24, mpo-32", words.family));
    auto const face = plant::parse_face(or_else(words.face, "flat"));
    if (!face) return usage(fmt::format("--face: \"{}\" is neither flat nor angled", words.face));
    plant::Occupancy fibres = plant::all_positions(*family);
    if (!words.fibres.empty()) {
        auto const read = plant::parse_occupancy(words.fibres, *family);
        if (!read) return usage("--fibres: " + read.error().message);
        fibres = *read;
    }
    std::string const type = or_else(words.type, family->rows == 1 ? "B" : "I-B");
    auto const map = plant::cable_map(type, *family);
    if (!map) return usage("--type: " + map.error().message);
    cabling.category = or_else(words.category, *face == Face::flat ? "OM4" : "OS2");
    auto const category = tables.category(cabling.category);
    if (!category) return usage("--category: " + category.error().message);
    cabling.glass = {(*category)->kind,
                     (*category)->kind == facts::FibreKind::multimode ? (*category)->core_um : 0};

    plant::LinkSpec link;
    link.id = "the cabling";
    link.category = cabling.category;
    link.family = *family;
    link.fibres = fibres;
    link.face = *face;
    link.trunk_type = type;
    for (std::size_t i = 0; i < 2; ++i) {
        plant::LinkEnd& end = i == 0 ? link.a : link.b;
        end.name = names[i];
        auto const read = plant::parse_pins(pins[i]);
        if (!read || *read == Pins::neutral)
            return usage(fmt::format("--cabling: \"{}\" is neither pinned nor unpinned", pins[i]));
        end.pins = *read;
        auto const fit = plant::parse_end_fitting(fittings[i] == "bare" ? "none" : fittings[i]);
        if (!fit)
            return usage(fmt::format("--adapters: \"{}\" is not opposed, aligned or bare", fittings[i]));
        end.fitting = *fit;
    }
    // The same way as a row of a schedule, so that both give the same set-up.
    TRY_ASSIGN(setup::JobLinks job_link, setup::job_link(link, tables));
    return std::move(job_link.cabling);
}

Result<std::vector<setup::Arrangement>> arrangements_of(std::vector<std::string> const& words)
{
    std::vector<setup::Arrangement> result;
    for (std::string const& word : words) {
        for (std::string_view const part : split(word, ',')) {
            auto const arrangement = setup::parse_arrangement(trimmed(part));
            if (!arrangement)
                return usage(fmt::format("--methods: \"{}\" is not one of one-cord, changer, two-cord, "
                                         "three-cord",
                                         trimmed(part)));
            if (std::find(result.begin(), result.end(), *arrangement) == result.end())
                result.push_back(*arrangement);
        }
    }
    if (result.empty()) result.push_back(setup::Arrangement::one_cord);
    return result;
}

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

facts::FibreCategory const* category_of_cords(setup::Question const& question, setup::Plan const& plan,
                                              facts::Tables const& tables)
{
    std::string const& of_cord = question.kit.cords[static_cast<std::size_t>(plan.tail.cord)].category;
    auto const found = tables.category(of_cord.empty() ? question.cabling.category : of_cord);
    return found ? *found : nullptr;
}

/// Joints in the light path while the check is measured.
int joints_in_check(setup::Plan const& plan)
{
    if (plan.check == setup::CheckKind::direct) return 1;
    if (plan.check == setup::CheckKind::known_cord) return 2;
    return setup::joints_in_reference(setup::method_of(plan.arrangement));
}

Result<std::vector<CheckNumbers>> check_numbers(setup::Question const& question, setup::Plan const& plan,
                                                SetupRules const& rules)
{
    std::vector<CheckNumbers> numbers;
    if (plan.check == setup::CheckKind::none) return numbers;
    TRY_ASSIGN(auto const expectations, setup::check_expectations(question, plan, *rules.rules));
    auto const* const category = category_of_cords(question, plan, *rules.tables);
    if (!category)
        return Error{Errc::not_found,
                     "The fibre category of the test cords is not known; name it in the kit."};
    auto const wavelengths =
        required_wavelengths(rules.wavelengths, *rules.rules, question.cabling.glass.kind);
    verdict::CordCheckQuestion check;
    check.id = "of this set-up";
    check.wavelengths = wavelengths;
    check.occupied = question.cabling.first.plug.occupied;
    check.rules = rules.rules;
    check.category = category;
    check.cords = setup::counting(question, plan).grade;
    check.method = setup::method_of(plan.arrangement);
    check.joints = joints_in_check(plan);
    Metres const added = setup::length_added_by_check(question, plan);
    check.added_length = std::max(added, Metres{0}); // a longer changer cord came out: millidecibels
    check.tables = rules.tables;
    TRY_ASSIGN(auto const judged, verdict::check_cords(check));
    for (verdict::CordLimit const& limit : judged.limits) {
        CheckNumbers row;
        row.wavelength = limit.wavelength;
        row.good_up_to = std::min(limit.rules, limit.practice);
        row.refused_above = std::max(limit.rules, limit.practice);
        row.good_from = limit.good_from;
        row.refused_below = limit.refused_below;
        row.rests_on_memory = limit.rests_on_memory;
        for (setup::CheckExpectation const& expected : expectations) {
            if (expected.wavelength != limit.wavelength) continue;
            // Where the same joints are only made again, the drift that voids a reference bounds it closer.
            row.expected_least = std::max(expected.least, row.refused_below);
            row.expected_most = std::min(expected.most, row.refused_above);
            row.arithmetic = expected.arithmetic;
        }
        numbers.push_back(std::move(row));
    }
    return numbers;
}

Result<std::vector<MethodRow>> method_rows(setup::Question const& question, setup::Plan const& plan,
                                           SetupRules const& rules)
{
    setup::Question all = question;
    all.permitted.assign(all_arrangements.begin(), all_arrangements.end());
    all.in_force.reset();
    TRY_ASSIGN(auto const comparisons, setup::compare(all));
    std::vector<verdict::UncertaintyEdit> edits;
    for (UncertaintyOverride const& each : rules.uncertainty) edits.push_back({each.id, each.value});
    auto const wavelengths =
        required_wavelengths(rules.wavelengths, *rules.rules, question.cabling.glass.kind);
    std::vector<MethodRow> rows;
    for (setup::MethodShadow const& shadow : setup::shadows(plan)) {
        MethodRow row;
        row.shadow = shadow;
        row.chosen = shadow.arrangement == plan.arrangement;
        row.permitted = std::find(question.permitted.begin(), question.permitted.end(), shadow.arrangement) !=
                        question.permitted.end();
        for (setup::Comparison const& each : comparisons) {
            if (each.arrangement != shadow.arrangement) continue;
            if (each.plan) row.cost = each.plan->cost;
            if (each.blocker) row.blocker = each.blocker->text();
        }
        verdict::BudgetQuestion budget{.tables = rules.tables,
                                       .kind = question.cabling.glass.kind,
                                       .wavelength =
                                           wavelengths.empty() ? Nanometres{850} : wavelengths.front(),
                                       .method = setup::method_of(shadow.arrangement),
                                       .ends = 2,
                                       .edits = edits};
        TRY_ASSIGN(verdict::Budget const known, verdict::budget_for(budget));
        // Each joint inside the reference adds the spread of one more end connection.
        double variance = std::pow(known.at(method_row_loss.value()).u, 2);
        for (verdict::Contribution const& each : known.contributions) {
            if (each.id != "connector-repeatability" && each.id != "cord-grade") continue;
            double const u = each.u(method_row_loss.value());
            variance += u * u / each.count * shadow.joint_spreads_added;
        }
        row.expanded_uncertainty = Decibel{2 * std::sqrt(variance)};
        rows.push_back(std::move(row));
    }
    return rows;
}

/// "Position 1 of the launch cord's plug arrives at position 12 of the tail cord's, 12 at 1; …".
std::string arrival_text(setup::Question const& question, setup::Plan const& plan, SetupRules const& rules)
{
    auto const map = setup::check_map(question, plan);
    if (!map) return {};
    auto const positions = plant::positions_of(question.cabling.first.plug.occupied);
    if (positions.empty()) return {};
    int const first = positions.front(), last = positions.back();
    return fmt::format(
        "Position {} of the launch cord's plug arrives at {} of the tail cord's plug, {} at {}. "
        "Launch cord to tail cord {} of cord in all; the instrument shows that, or less what "
        "it took out with the reference.",
        first, map->at(first), last, map->at(last),
        cord_length(setup::check_length(question, plan), rules.locale));
}

void add_shown(SolvedSetup& solved, setup::Cabling const& cabling, std::vector<std::string> const& links)
{
    setup::Question one = solved.question;
    one.cabling = cabling;
    auto map = setup::shown_map(one, solved.plan);
    if (!map) {
        solved.shown_missing = map.error().message;
        return;
    }
    for (ShownFor& known : solved.shown) {
        if (known.map.expected != map->expected || known.map.shown != map->shown) continue;
        known.links.insert(known.links.end(), links.begin(), links.end());
        return;
    }
    ShownFor shown;
    shown.map = std::move(map).value();
    shown.links = links;
    solved.shown.push_back(std::move(shown));
}

std::vector<std::string> decisions_of(SolvedSetup const& solved, KitRulings const& rulings)
{
    std::vector<std::string> texts;
    for (std::string const& serial : serials_of(solved)) {
        auto const found = rulings.find(serial);
        if (found == rulings.end()) continue;
        texts.insert(texts.end(), found->second.overridden.begin(), found->second.overridden.end());
    }
    return texts;
}

std::string refused_text(std::vector<std::string> const& refusals)
{
    return "It needs what the register refuses, and the kit has nothing else that serves:\n" +
           joined(refusals, "\n");
}

/// `question`: the one without a plan, to look for other ways.
Result<UnsolvedGroup> unsolved_of(std::vector<std::string> links, setup::NoPlan const& none,
                                  setup::Question const& question)
{
    UnsolvedGroup unsolved;
    unsolved.links = std::move(links);
    std::vector<std::string> reasons;
    for (setup::Blocker const& blocker : none.blockers) reasons.push_back(blocker.text());
    if (none.remedy) {
        unsolved.remedy = none.remedy->text;
    } else {
        TRY_ASSIGN(auto const pair, setup::cheapest_pair(question));
        if (pair) unsolved.remedy = pair->text;
        reasons.emplace_back(pair ? "No single item of the usual kinds would make it possible; two would."
                                  : "Neither one nor two items of the usual kinds would make it possible: "
                                    "ask for a whole set.");
    }
    unsolved.reason = joined(reasons, "\n");
    TRY_ASSIGN(auto const ways, setup::ways_out(question));
    for (setup::WayOut const& way : ways) unsolved.ways.push_back(way.text);
    return unsolved;
}

} // namespace

SetupRules setup_rules_of(JobState const& state)
{
    return {&state.tables, &state.rules, state.settings.wavelengths, state.settings.uncertainty,
            locale_of(state.settings)};
}

Result<setup::Question> question_of(SetupWords const& words, KitFile const* kit, facts::Tables const& tables)
{
    setup::Question question;
    TRY_ASSIGN(question.cabling, cabling_of(words, tables));
    TRY_ASSIGN(question.source, port_of_word(words.source, InstrumentRole::source, kit, question.cabling));
    TRY_ASSIGN(question.meter, port_of_word(words.meter, InstrumentRole::meter, kit, question.cabling));
    TRY_ASSIGN(question.permitted, arrangements_of(words.methods));
    question.cord_check = words.cord_check;
    if (kit) {
        question.kit = kit->kit;
        return question;
    }
    question.kit = setup::complete_kit(question.source, question.meter, question.cabling, false);
    TRY_ASSIGN(setup::Answer const answer, setup::solve(question, {.look_for_remedy = false}));
    if (!answer.plan)
        question.kit = setup::complete_kit(question.source, question.meter, question.cabling, true);
    return question;
}

Result<SolvedSetup> worked_out(setup::Question question, setup::Plan plan, SetupRules const& rules,
                               std::vector<setup::JobLinks> const& links)
{
    SolvedSetup solved;
    solved.question = std::move(question);
    solved.plan = std::move(plan);
    solved.locale = rules.locale;
    if (solved.question.cabling.category.empty() && !links.empty())
        solved.question.cabling.category = links.front().cabling.category; // of one core, so alike in a cord
    solved.counting = setup::counting(solved.question, solved.plan);
    auto const differs = [&](setup::CablingEnd const& end, setup::CablingEnd const& drawn) {
        return end.fitting != drawn.fitting;
    };
    for (setup::JobLinks const& alike : links) {
        if (differs(alike.cabling.first, solved.question.cabling.first) ||
            differs(alike.cabling.second, solved.question.cabling.second))
            solved.other_fittings.insert(solved.other_fittings.end(), alike.ids.begin(), alike.ids.end());
    }
    if (links.empty()) add_shown(solved, solved.question.cabling, {});
    for (setup::JobLinks const& alike : links) add_shown(solved, alike.cabling, alike.ids);
    auto numbers = check_numbers(solved.question, solved.plan, rules);
    if (numbers) {
        solved.checks = std::move(numbers).value();
    } else if (numbers.error().code == Errc::not_found) {
        solved.checks_missing = numbers.error().message;
    } else {
        return numbers.error();
    }
    // What a step tells to accept or refuse by is what the judgement will go by.
    std::vector<setup::CheckExpectation> limits;
    for (CheckNumbers const& row : solved.checks) {
        setup::CheckExpectation limit;
        limit.wavelength = row.wavelength;
        limit.least = row.good_from;
        limit.refused_below = row.refused_below;
        limit.most = row.good_up_to;
        limit.refused_above = row.refused_above;
        limits.push_back(std::move(limit));
    }
    solved.check_arrival = arrival_text(solved.question, solved.plan, rules);
    TRY_ASSIGN(solved.steps,
               setup::steps(solved.question, solved.plan, limits, *rules.tables, solved.check_arrival));
    solved.scenes = setup::scenes(solved.question, solved.plan);
    TRY_ASSIGN(solved.methods, method_rows(solved.question, solved.plan, rules));
    return solved;
}

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
            serials.push_back(serial_of(words.source, InstrumentRole::source, kit, whole.cabling));
            serials.push_back(serial_of(words.meter, InstrumentRole::meter, kit, whole.cabling));
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
    solved.source_serial = serial_of(words.source, InstrumentRole::source, used, answer.question.cabling);
    solved.meter_serial = serial_of(words.meter, InstrumentRole::meter, used, answer.question.cabling);
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
        setup::Cord cord = setup::cord_of(each.id, *family, {each.pins_near, each.exchangeable_pins},
                                          {each.pins_far, each.exchangeable_pins}, each.face);
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

namespace {

/// Links that one pair of instruments measures.
struct Party
{
    KitInstrument const* source = nullptr;
    KitInstrument const* meter = nullptr;
    std::vector<setup::JobLinks> links;
};

void note_unsolved(JobSetups& all, std::vector<std::string> links, std::string reason)
{
    for (UnsolvedGroup& known : all.unsolved) {
        if (known.reason != reason) continue;
        known.links.insert(known.links.end(), links.begin(), links.end());
        return;
    }
    all.unsolved.push_back({std::move(links), std::move(reason), {}, {}});
}

/// The links as they differ in what setup::job_link looks at, each kind once: thousands of them are a
/// handful.
std::vector<std::vector<plant::LinkSpec const*>> alike_links(std::vector<plant::LinkSpec> const& links)
{
    auto const looked_at = [](plant::LinkSpec const& link) {
        return std::make_tuple(std::string_view{link.category}, std::string_view{link.trunk_type},
                               link.family.key, link.family.rows, link.family.columns,
                               link.fibres.to_ullong(), link.face, link.a.pins, link.a.fitting, link.b.pins,
                               link.b.fitting);
    };
    std::vector<std::vector<plant::LinkSpec const*>> kinds;
    std::map<decltype(looked_at(links.front())), std::size_t> known;
    for (plant::LinkSpec const& link : links) {
        auto const [at, is_new] = known.emplace(looked_at(link), kinds.size());
        if (is_new) kinds.emplace_back();
        kinds[at->second].push_back(&link);
    }
    return kinds;
}

/// The reason without the link's own name, so that alike links are told once.
std::string reason_for_any(std::string reason, std::string const& id)
{
    for (std::string const& named : {fmt::format("Link {}", id), fmt::format("Link '{}'", id)}) {
        if (!reason.starts_with(named)) continue;
        reason.replace(0, named.size(), "The link");
        break;
    }
    return reason;
}

/// Instruments of the whole kit for this cabling, where the fit part of it has none.
std::vector<std::string> refused_instruments(KitFile const& whole, KitRulings const& rulings,
                                             plant::ConnectorEnd const& plug, facts::FibreKind kind,
                                             std::initializer_list<InstrumentRole> roles)
{
    std::vector<std::string> serials;
    for (InstrumentRole const role : roles) {
        for (KitInstrument const& each : whole.instruments) {
            if (each.role == role && each.port.face.family.key == plug.family.key && each.serves(kind))
                serials.push_back(each.entry.serial);
        }
    }
    return refusals_of(serials, rulings);
}

std::vector<Party> parties_of(JobState const& state, KitFile const& kit, KitFile const& whole,
                              KitRulings const& rulings, JobSetups& all)
{
    std::vector<Party> parties;
    for (std::vector<plant::LinkSpec const*> const& alike : alike_links(state.links)) {
        plant::LinkSpec const& spec = *alike.front();
        std::vector<std::string> ids;
        ids.reserve(alike.size());
        for (plant::LinkSpec const* each : alike) ids.push_back(each->id);
        auto link = setup::job_link(spec, state.tables);
        if (!link) {
            note_unsolved(all, std::move(ids), reason_for_any(link.error().message, spec.id));
            continue;
        }
        plant::ConnectorEnd const& plug = link->cabling.first.plug;
        facts::FibreKind const kind = link->cabling.glass.kind;
        KitInstrument const* const source = fitting(kit, InstrumentRole::source, plug, kind);
        KitInstrument const* const meter = fitting(kit, InstrumentRole::meter, plug, kind);
        if (!source || !meter) {
            std::vector<std::string> refused;
            if (!source) refused = refused_instruments(whole, rulings, plug, kind, {InstrumentRole::source});
            if (!meter) {
                auto more = refused_instruments(whole, rulings, plug, kind, {InstrumentRole::meter});
                std::move(more.begin(), more.end(), std::back_inserter(refused));
            }
            note_unsolved(all, std::move(ids),
                          !refused.empty() ? refused_text(refused)
                                           : fmt::format("No {} of the kit has an {} port for {} fibre.",
                                                         source ? "meter" : "source", plug.family.name(),
                                                         facts::name_of(kind)));
            continue;
        }
        auto party = std::find_if(parties.begin(), parties.end(), [&](Party const& each) {
            return each.source == source && each.meter == meter;
        });
        if (party == parties.end()) {
            parties.push_back({source, meter, {}});
            party = parties.end() - 1;
        }
        auto const named_alike = [&](auto const& name_of_end) {
            return std::all_of(alike.begin(), alike.end(), [&](plant::LinkSpec const* each) {
                return name_of_end(*each) == name_of_end(spec);
            });
        };
        if (!named_alike([](auto const& each) -> auto const& { return each.a.name; }))
            link->cabling.first.name.clear();
        if (!named_alike([](auto const& each) -> auto const& { return each.b.name; }))
            link->cabling.second.name.clear();
        link->ids = std::move(ids);
        party->links.push_back(std::move(link).value());
    }
    return parties;
}

/// Alike links stand together; people look for them as the schedule has them.
template <typename Link, typename Name>
void as_scheduled(JobState const& state, std::vector<Link>& links, Name const& name)
{
    std::vector<std::pair<std::size_t, std::size_t>> order;
    order.reserve(links.size());
    for (Link const& link : links) {
        auto const found = state.link_index.find(name(link));
        order.emplace_back(found == state.link_index.end() ? state.links.size() : found->second,
                           order.size());
    }
    if (std::is_sorted(order.begin(), order.end())) return;
    std::sort(order.begin(), order.end());
    std::vector<Link> sorted;
    sorted.reserve(links.size());
    for (auto const& [place, from] : order) sorted.push_back(std::move(links[from]));
    links = std::move(sorted);
}

void as_scheduled(JobState const& state, std::vector<std::string>& ids)
{
    as_scheduled(state, ids, [](std::string const& id) -> std::string const& { return id; });
}

/// What one pair of instruments costs, and would cost another way.
struct PartyCost
{
    setup::JobCost own;
    int most_joints = 0;
    std::vector<setup::JobAlternative> alternatives;
};

void add_cost(setup::JobCost& sum, setup::JobCost const& more)
{
    sum.setups += more.setups;
    sum.pin_changes += more.pin_changes;
    sum.references += more.references;
    sum.reference_matings += more.reference_matings;
}

/// Over all pairs; where a pair has no such alternative its own way is that already.
std::vector<setup::JobAlternative> alternatives_of(std::vector<PartyCost> const& parties)
{
    std::vector<setup::JobAlternative> all;
    for (PartyCost const& party : parties) {
        for (setup::JobAlternative const& each : party.alternatives) {
            bool const known = std::any_of(all.begin(), all.end(), [&](setup::JobAlternative const& other) {
                return other.name == each.name;
            });
            if (!known) all.push_back({each.name, setup::JobCost{}, 0, {}});
        }
    }
    for (setup::JobAlternative& sum : all) {
        for (PartyCost const& party : parties) {
            auto const found =
                std::find_if(party.alternatives.begin(), party.alternatives.end(),
                             [&](setup::JobAlternative const& each) { return each.name == sum.name; });
            bool const own = found == party.alternatives.end();
            sum.most_joints_in_reference = std::max(
                sum.most_joints_in_reference, own ? party.most_joints : found->most_joints_in_reference);
            if (!own && !found->cost) {
                sum.cost.reset();
                if (sum.blocker.empty()) sum.blocker = found->blocker;
            } else if (sum.cost) {
                add_cost(*sum.cost, own ? party.own : *found->cost);
            }
        }
    }
    return all;
}

/// What the register refuses, where it alone stands in the way of these links: with the whole kit there would
/// be a set-up. Empty: it is not that.
Result<std::vector<std::string>> refused_in_the_way(std::vector<std::string> const& ids,
                                                    setup::JobQuestion const& fit, KitFile const& whole,
                                                    KitRulings const& rulings)
{
    std::set<std::string_view> const wanted(ids.begin(), ids.end());
    setup::JobQuestion question{fit.source,
                                fit.meter,
                                whole.kit,
                                fit.permitted,
                                fit.cord_check,
                                fit.either_end,
                                fit.reference_may_go_on,
                                {}};
    for (setup::JobLinks const& alike : fit.links) {
        if (!alike.ids.empty() && wanted.contains(alike.ids.front())) question.links.push_back(alike);
    }
    if (question.links.empty()) return std::vector<std::string>{};
    setup::Cabling const& cabling = question.links.front().cabling;
    auto const* const source = fitting(whole, InstrumentRole::source, cabling.first.plug, cabling.glass.kind);
    auto const* const meter = fitting(whole, InstrumentRole::meter, cabling.first.plug, cabling.glass.kind);
    if (!source || !meter) return std::vector<std::string>{};
    question.source = source->port;
    question.meter = meter->port;
    TRY_ASSIGN(setup::JobPlan const plan, setup::plan_job(question, false));
    if (!plan.unsolved.empty()) return std::vector<std::string>{};
    std::vector<std::string> serials{source->entry.serial, meter->entry.serial};
    for (setup::JobGroup const& group : plan.groups) {
        for (std::string& serial : cord_serials_of(group.question, group.plan)) {
            if (std::find(serials.begin(), serials.end(), serial) == serials.end())
                serials.push_back(std::move(serial));
        }
    }
    return refusals_of(serials, rulings);
}

Result<PartyCost> add_party(JobSetups& all, Party const& party, setup::JobQuestion const& question,
                            JobSetupWish const& wish, JobState const& state, KitFile const& whole,
                            KitRulings const& rulings)
{
    SetupRules const rules = setup_rules_of(state);
    PartyCost costs;
    TRY_ASSIGN(setup::JobPlan plan, setup::plan_job(question, wish.alternatives));
    for (setup::JobGroup& group : plan.groups) {
        SetupGroup made;
        made.number = static_cast<int>(all.groups.size()) + 1;
        made.links = std::move(group.links);
        made.new_reference = group.new_reference;
        made.why = std::move(group.why);
        std::vector<setup::JobLinks> as_launched;
        for (setup::GroupedEntry const& each : group.entries) {
            as_launched.push_back(question.links[each.entry]);
            if (each.from_end_b) as_launched.back().cabling = setup::turned(as_launched.back().cabling);
        }
        TRY_ASSIGN(made.setup,
                   worked_out(std::move(group.question), std::move(group.plan), rules, as_launched));
        if (as_launched.size() > 1) {
            as_scheduled(state, made.links,
                         [](setup::GroupedLink const& link) -> std::string const& { return link.id; });
            as_scheduled(state, made.setup.other_fittings);
            for (ShownFor& shown : made.setup.shown) as_scheduled(state, shown.links);
        }
        made.setup.source_serial = party.source->entry.serial;
        made.setup.meter_serial = party.meter->entry.serial;
        made.setup.decisions = decisions_of(made.setup, rulings);
        costs.most_joints = std::max(costs.most_joints, made.setup.counting.joints_removed);
        all.groups.push_back(std::move(made));
    }
    costs.own = plan.cost;
    costs.alternatives = std::move(plan.alternatives);
    add_cost(all.cost, plan.cost);
    all.exact = all.exact && plan.exact;
    for (setup::KitLine const& line : plan.kit_list) {
        auto const known = std::find_if(all.kit_list.begin(), all.kit_list.end(),
                                        [&](setup::KitLine const& each) { return each.text == line.text; });
        if (known == all.kit_list.end()) {
            all.kit_list.push_back(line);
            continue;
        }
        // One pair of instruments works after the other: adapters and tools serve both, cords are told apart.
        for (std::string const& id : line.ids) {
            if (std::find(known->ids.begin(), known->ids.end(), id) == known->ids.end())
                known->ids.push_back(id);
        }
        known->needed = std::max({known->needed, line.needed, static_cast<int>(known->ids.size())});
        known->spare = std::max(known->spare, line.spare);
        known->in_kit = std::max(known->in_kit, line.in_kit);
    }
    for (setup::UnsolvedLinks const& each : plan.unsolved) {
        std::vector<std::string> refused;
        if (!rulings.empty()) {
            TRY_ASSIGN(refused, refused_in_the_way(each.ids, question, whole, rulings));
        }
        if (!refused.empty()) {
            note_unsolved(all, each.ids, refused_text(refused));
            continue;
        }
        setup::Question asked;
        asked.source = question.source;
        asked.meter = question.meter;
        asked.kit = question.kit;
        asked.permitted = question.permitted;
        asked.cord_check = question.cord_check;
        for (setup::JobLinks const& alike : question.links) {
            if (!alike.ids.empty() && alike.ids.front() == each.ids.front()) asked.cabling = alike.cabling;
        }
        TRY_ASSIGN(UnsolvedGroup unsolved, unsolved_of(each.ids, each.none, asked));
        all.unsolved.push_back(std::move(unsolved));
    }
    return costs;
}

} // namespace

Result<JobSetups> job_setups(JobState const& state, JobSetupWish const& wish)
{
    if (state.links.empty())
        return Error{Errc::invalid_input,
                     "The job has no links yet: bring in a schedule first (guidepin schedule)."};
    JobSetups all;
    KitFile const whole = wish.kit ? *wish.kit : kit_of_job(state, all.remarks);
    if (whole.instruments.empty())
        return Error{Errc::invalid_input,
                     "The kit names no source and no meter: add [[instrument]] tables to "
                     "the kit file or the job sheet (docs/formats/kit.md)."};
    KitRulings const rulings = wish.today ? kit_rulings(whole, &state, *wish.today) : KitRulings{};
    KitFile const kit = without_refused(whole, rulings);
    for (auto const& [serial, ruling] : rulings) {
        // The text of a refusal names the item.
        for (std::string const& refused : ruling.refused)
            all.remarks.push_back("Not planned with, the register refuses it: " + refused);
    }
    setup::JobQuestion question;
    question.kit = kit.kit;
    question.either_end = wish.either_end;
    TRY_ASSIGN(question.permitted,
               arrangements_of(wish.methods.empty()
                                   ? std::vector<std::string>{setup::name_of(state.settings.method)}
                                   : wish.methods));
    std::vector<PartyCost> costs;
    for (Party& party : parties_of(state, kit, whole, rulings, all)) {
        question.source = party.source->port;
        question.meter = party.meter->port;
        question.links = std::move(party.links);
        TRY_ASSIGN(PartyCost cost, add_party(all, party, question, wish, state, whole, rulings));
        costs.push_back(std::move(cost));
    }
    for (UnsolvedGroup& each : all.unsolved) as_scheduled(state, each.links);
    all.alternatives = alternatives_of(costs);
    return all;
}

} // namespace guidepin::job
