// SPDX-License-Identifier: Apache-2.0
// Fibre categories, connection grades, uncertainty, end faces, colours.
#include "base/text.hpp"
#include "facts/readers.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>

namespace guidepin::facts {
std::optional<FibreKind> taken_fibre(Section& row)
{
    std::string const text = row.text("fibre");
    auto const kind = parse_fibre_kind(text);
    if (!kind && !text.empty()) row.say(fmt::format("fibre `{}` is neither multimode nor single-mode", text));
    return kind;
}

namespace {

std::vector<std::string> words_of(std::string const& text)
{
    std::vector<std::string> words;
    for (auto const part : split(text, ',')) words.push_back(std::string{trimmed(part)});
    return words;
}

std::string taken_rgb(Section& row, std::string_view key)
{
    std::string const rgb = row.text(key);
    bool const good = rgb.size() == 7 && rgb[0] == '#' && std::all_of(rgb.begin() + 1, rgb.end(), [](char c) {
                          return (c >= '0' && c <= '9') || (c >= 'a' && c <= 'f');
                      });
    if (!good && !rgb.empty()) row.say(fmt::format("{} `{}` is not like #0057b8", key, rgb));
    return rgb;
}

std::vector<EndFaceZone::Allowance> taken_allowances(Section& row, std::string_view key)
{
    std::vector<EndFaceZone::Allowance> allowances;
    for (auto& inner : row.tables(key)) {
        EndFaceZone::Allowance allowance;
        allowance.above_um = inner.number("above").value_or(0);
        allowance.up_to_um = inner.number("up-to").value_or(0);
        allowance.allowed = inner.whole("allowed", -1, 1000).value_or(0);
        inner.finish();
        if (allowance.up_to_um != 0 && allowance.up_to_um <= allowance.above_um) {
            inner.say("`up-to` is not above `above`; 0 means no upper bound");
        }
        allowances.push_back(allowance);
    }
    return allowances;
}

} // namespace

void read_fibres(Section& file, Sources const& sources, Gathering& into)
{
    for (auto& row : file.tables("category")) {
        FibreCategory category;
        category.id = row.text("id");
        auto const name = "fibre." + category.id;
        category.kind = taken_fibre(row).value_or(FibreKind::multimode);
        category.legacy = row.optional_flag("legacy", false);
        if (auto const core = read_fact_member(row, "core", sources, name + ".core",
                                               category.kind == FibreKind::multimode
                                                   ? fmt::format("Core diameter of {}", category.id)
                                                   : fmt::format("Mode-field diameter of {}", category.id),
                                               Expected{"um", 5, 200})) {
            category.core_um = core->value;
            into.add(row, *core);
        }
        if (auto const meets = read_optional_fact_member(
                row, "meets", sources, name + ".meets",
                fmt::format("Categories whose requirement {} also meets", category.id), Expected{""})) {
            category.meets = words_of(meets->text);
            into.add(row, *meets);
        }
        if (auto const jacket = read_optional_fact_member(
                row, "jacket", sources, name + ".jacket",
                fmt::format("Usual jacket colour of {}", category.id), Expected{""})) {
            category.jacket = jacket->text;
            into.add(row, *jacket);
        }
        for (auto& inner : row.tables("group-index")) {
            auto const wavelength = inner.whole("wavelength", shortest_wavelength, longest_wavelength);
            auto const fact =
                read_fact(inner, sources, fmt::format("{}.group-index.{}", name, wavelength.value_or(0)),
                          fmt::format("Group index of {} at {} nm", category.id, wavelength.value_or(0)),
                          Expected{"1", 1.0, 2.0});
            inner.finish();
            if (!fact || !wavelength) continue;
            into.add(inner, *fact);
            category.group_index.emplace(*wavelength, *fact);
        }
        row.finish();
        into.tables().categories.push_back(std::move(category));
    }
    for (auto const& category : into.tables().categories) {
        for (auto const& lower : category.meets) {
            auto const found = into.tables().category(lower);
            if (!found) file.say(fmt::format("{} meets {}: {}", category.id, lower, found.error().message));
        }
    }
}

void read_connections(Section& file, Sources const& sources, Gathering& into)
{
    for (auto& row : file.tables("grade")) {
        ConnectionGrade grade;
        grade.id = row.text("id");
        grade.kind = taken_fibre(row).value_or(FibreKind::single_mode);
        auto const mean = read_fact_member(
            row, "mean", sources, "grade." + grade.id + ".mean",
            fmt::format("Grade {}, mean attenuation of random matings", grade.id), Expected{"dB", 0, 5});
        auto const p97 = read_fact_member(
            row, "p97", sources, "grade." + grade.id + ".p97",
            fmt::format("Grade {}, attenuation of 97 % of random matings", grade.id), Expected{"dB", 0, 5});
        row.finish();
        if (!mean || !p97) continue;
        if (p97->value < mean->value) row.say("the 97 % value lies below the mean");
        into.add(row, *mean);
        into.add(row, *p97);
        grade.mean = *mean;
        grade.p97 = *p97;
        into.tables().grades.push_back(std::move(grade));
    }
}

void read_colours(Section& file, Sources const& sources, Gathering& into)
{
    for (auto& row : file.tables("fibre-colour")) {
        FibreColour colour;
        colour.number = row.whole("number", 1, 144).value_or(0);
        colour.short_name = row.text("short");
        colour.rgb = taken_rgb(row, "rgb");
        auto const id = fmt::format("colour.fibre.{}", colour.number);
        auto const name = read_fact_member(row, "name", sources, id,
                                           fmt::format("Colour of fibre {}", colour.number), Expected{""});
        auto const iec =
            read_fact_member(row, "iec-name", sources, id + ".iec",
                             fmt::format("Colour of fibre {}, IEC name", colour.number), Expected{""});
        row.finish();
        if (!name || !iec) continue;
        into.add(row, *name);
        into.add(row, *iec);
        colour.name = name->text;
        colour.iec_name = iec->text;
        into.tables().fibre_colours.push_back(std::move(colour));
    }
    for (auto& row : file.tables("jacket")) {
        JacketColour jacket;
        jacket.category = row.text("category");
        jacket.jacket_rgb = taken_rgb(row, "jacket-rgb");
        jacket.plug = row.text("plug");
        jacket.plug_rgb = taken_rgb(row, "plug-rgb");
        std::string const variant = row.optional_text("variant");
        auto const fact = read_fact(
            row, sources,
            fmt::format("colour.jacket.{}{}{}", jacket.category, variant.empty() ? "" : ".", variant),
            fmt::format("Jacket of {} (plugs: {})", jacket.category, jacket.plug), Expected{""});
        row.finish();
        if (!fact) continue;
        into.add(row, *fact);
        jacket.jacket = fact->text;
        jacket.condition = fact->condition;
        into.tables().jacket_colours.push_back(std::move(jacket));
    }
}

void read_uncertainty(Section& file, Sources const& sources, Gathering& into)
{
    constexpr std::array<std::string_view, 4> distributions{"normal", "rectangular", "triangular",
                                                            "u-shaped"};
    constexpr std::array<std::string_view, 4> counts{"once", "end", "reference-joint", "loss"};
    for (auto& row : file.tables("contribution")) {
        UncertaintyContribution contribution;
        contribution.id = row.text("id");
        contribution.name = row.text("name");
        contribution.distribution = row.text("distribution");
        if (std::find(distributions.begin(), distributions.end(), contribution.distribution) ==
            distributions.end()) {
            row.say("`distribution` is none of normal, rectangular, triangular, u-shaped");
        }
        contribution.half_width_or_sd = row.text("given-as");
        if (contribution.half_width_or_sd != "half-width" &&
            contribution.half_width_or_sd != "standard-deviation") {
            row.say("`given-as` is neither half-width nor standard-deviation");
        }
        contribution.degrees_of_freedom = row.number("degrees-of-freedom").value_or(0);
        contribution.methods = row.optional_texts("methods");
        contribution.per = row.text("per");
        if (std::find(counts.begin(), counts.end(), contribution.per) == counts.end()) {
            row.say("`per` is none of once, end, reference-joint, loss");
        }
        contribution.common = row.optional_flag("common", false);
        auto const take = [&](std::string_view table, std::string const& infix, Expected const& expected,
                              std::map<std::string, Fact>& values) {
            for (auto& inner : row.tables(table)) {
                std::string const key = inner.text("fibre");
                auto const kind = key.substr(0, key.find('@'));
                if (!parse_fibre_kind(kind)) {
                    inner.say("`fibre` is not like multimode, single-mode or multimode@850");
                }
                auto const fact =
                    read_fact(inner, sources, fmt::format("uncertainty.{}.{}{}", contribution.id, infix, key),
                              contribution.name, expected);
                inner.finish();
                if (!fact) continue;
                into.add(inner, *fact);
                values.emplace(key, *fact);
            }
        };
        take("value-for", "", Expected{contribution.per == "loss" ? "1" : "dB", 0, 10}, contribution.value);
        take("least-for", "least.", Expected{"dB", 0, 10}, contribution.least);
        row.finish();
        if (contribution.value.empty()) row.say("no [[contribution.value-for]]");
        into.tables().uncertainty.push_back(std::move(contribution));
    }
}

void read_end_faces(Section& file, Sources const& sources, Gathering& into)
{
    for (auto& row : file.tables("zone")) {
        EndFaceZone zone;
        zone.type = row.text("type");
        zone.zone = row.text("zone");
        zone.inner_um = row.number("inner").value_or(0);
        zone.outer_um = row.number("outer").value_or(0);
        if (zone.outer_um <= zone.inner_um) row.say("`outer` is not above `inner` (diameters, um)");
        zone.arrays = row.optional_flag("arrays", false);
        zone.scratches = taken_allowances(row, "scratches");
        zone.defects = taken_allowances(row, "defects");
        auto const fact = read_fact(row, sources, "", "", Expected{""});
        row.finish();
        if (!fact) continue;
        zone.fact = *fact;
        zone.edition = fact->source.edition;
        zone.fact.id = fmt::format("end-face.{}.{}.{}", zone.edition.substr(0, zone.edition.find(' ')),
                                   zone.type, zone.zone);
        zone.fact.quantity = fmt::format("End face, {}, zone {} ({} to {} um)", zone.type, zone.zone,
                                         number_text(zone.inner_um), number_text(zone.outer_um));
        into.add(row, zone.fact);
        if (zone.fact.enabled) into.tables().end_face_zones.push_back(std::move(zone));
    }
}

} // namespace guidepin::facts
