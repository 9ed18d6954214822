// SPDX-License-Identifier: Apache-2.0
#include "job/plan/set_up_question.hpp"

#include "base/text.hpp"
#include "plant/presets.hpp"
#include "setup/job_setup.hpp"

#include <algorithm>
#include <array>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

using plant::Face;
using plant::Pins;

Error usage(std::string text)
{
    return Error{Errc::usage, std::move(text)};
}

/// Splits "a,b" into two words; one word alone means both.
Result<std::array<std::string, 2>> two_words(std::string const& text, char const* what)
{
    auto const parts = split(text, ',');
    if (parts.empty() || parts.size() > 2 || trimmed(parts.front()).empty())
        return usage(
            fmt::format("{}: \"{}\" is not one word for both ends, or two with a comma between", what, text));
    return std::array{std::string(trimmed(parts.front())), std::string(trimmed(parts.back()))};
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
    char const* const name = name_of(role);
    if (word.empty()) {
        plant::ConnectorEnd const& plug = cabling.first.plug;
        if (auto const* const found =
                kit ? fitting_instrument(*kit, role, plug, cabling.glass.kind) : nullptr)
            return found->port;
        return usage(
            kit ? fmt::format("The kit has no {} with an {} port for {} fibre; give the pins of its port: "
                              "pinned or unpinned",
                              name, plant::words_of(plug.family), facts::name_of(cabling.glass.kind))
                : fmt::format("The port of the {} is missing: give its pins, pinned or unpinned", name));
    }
    if (auto const* const named = by_serial(kit, role, word)) return named->port;
    auto const pins = plant::parse_pins(word);
    if (!pins)
        return usage(fmt::format("Port of the {}: \"{}\" is neither pinned nor unpinned{}", name, word,
                                 kit ? ", nor the serial of one in the kit" : ""));
    if (*pins == Pins::neutral && role == InstrumentRole::source)
        return usage(
            "Port of the source: only a meter's port can be neutral, because it does not touch the plug");
    return setup::port_of(cabling.first.plug.family, *pins, cabling.first.plug.face);
}

Result<setup::Cabling> cabling_of(SetupWords const& words, facts::Tables const& tables)
{
    auto const or_else = [](std::string const& word, char const* fallback) {
        return word.empty() ? std::string(fallback) : word;
    };
    setup::Cabling cabling;
    if (words.cabling.empty())
        return usage("The pins of the cabling's two ends are missing: give both, such as unpinned,unpinned");
    if (words.cabling.find(',') == std::string::npos)
        return usage(fmt::format(
            "Pins of the cabling: \"{0}\" names one end; name both, the launch end first, as {0},{0}",
            words.cabling));
    TRY_ASSIGN(auto const pins, two_words(words.cabling, "Pins of the cabling"));
    TRY_ASSIGN(auto const fittings, two_words(or_else(words.adapters, "opposed,opposed"), "Adapters"));
    TRY_ASSIGN(auto const names, two_words(or_else(words.names, "A,B"), "Names of the ends"));
    auto const family = plant::parse_family(or_else(words.family, "mpo-12"));
    if (!family || family->key == plant::Family::Key::duplex)
        return usage(fmt::format("Connector family: \"{}\" is not one of mpo-12, mpo-16, mpo-24, mpo-32",
                                 words.family));
    auto const face = plant::parse_face(or_else(words.face, "flat"));
    if (!face) return usage(fmt::format("End faces: \"{}\" is neither flat nor angled", words.face));
    plant::Occupancy fibres = plant::all_positions(*family);
    if (!words.fibres.empty()) {
        auto const read = plant::parse_occupancy(words.fibres, *family);
        if (!read) return usage("Positions under test: " + read.error().message);
        fibres = *read;
    }
    std::string const type = or_else(words.type, family->rows == 1 ? "B" : "I-B");
    auto const map = plant::cable_map(type, *family);
    if (!map) return usage("Polarity type: " + map.error().message);
    cabling.category = or_else(words.category, *face == Face::flat ? "OM4" : "OS2");
    auto const category = tables.category(cabling.category);
    if (!category) return usage("Fibre of the cabling: " + category.error().message);
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
            return usage(fmt::format("Pins of the cabling: \"{}\" is neither pinned nor unpinned", pins[i]));
        end.pins = *read;
        auto const fit = plant::parse_end_fitting(fittings[i] == "bare" ? "none" : fittings[i]);
        if (!fit) return usage(fmt::format("Adapters: \"{}\" is not opposed, aligned or bare", fittings[i]));
        end.fitting = *fit;
    }
    // The same way as a row of a schedule, so that both give the same set-up.
    TRY_ASSIGN(setup::JobLinks job_link, setup::job_link(link, tables));
    return std::move(job_link.cabling);
}

} // namespace

KitInstrument const* fitting_instrument(KitFile const& kit, InstrumentRole role,
                                        plant::ConnectorEnd const& plug, facts::FibreKind kind)
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

std::string instrument_serial_of(std::string const& word, InstrumentRole role, KitFile const* kit,
                                 setup::Cabling const& cabling)
{
    if (!kit) return {};
    if (word.empty()) {
        auto const* const found = fitting_instrument(*kit, role, cabling.first.plug, cabling.glass.kind);
        return found ? found->entry.serial : std::string();
    }
    return by_serial(kit, role, word) ? word : std::string();
}

Result<std::vector<setup::Arrangement>> arrangements_of(std::vector<std::string> const& words)
{
    std::vector<setup::Arrangement> result;
    for (std::string const& word : words) {
        for (std::string_view const part : split(word, ',')) {
            auto const arrangement = setup::parse_arrangement(trimmed(part));
            if (!arrangement)
                return usage(
                    fmt::format("Reference method: \"{}\" is not one of one-cord, changer, two-cord, "
                                "three-cord",
                                trimmed(part)));
            if (std::find(result.begin(), result.end(), *arrangement) == result.end())
                result.push_back(*arrangement);
        }
    }
    if (result.empty()) result.push_back(setup::Arrangement::one_cord);
    return result;
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

} // namespace guidepin::job
