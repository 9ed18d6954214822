// SPDX-License-Identifier: Apache-2.0
// A kit file written from what its reader read, for tests of the reader: reading it again must give the same.
#pragma once

#include "base/text.hpp"
#include "job/sheet/kit_file.hpp"
#include "plant/presets.hpp"

#include <string>
#include <string_view>
#include <vector>

#include <fmt/format.h>

namespace guidepin::job {

/// A TOML text in quotes.
inline std::string toml_text(std::string_view text)
{
    std::string result = "\"";
    for (char const letter : text) {
        auto const code = static_cast<unsigned char>(letter);
        if (letter == '"' || letter == '\\') {
            result += '\\';
            result += letter;
        } else if (code < 0x20 || code == 0x7f) {
            result += fmt::format("\\u{:04x}", static_cast<unsigned>(code));
        } else {
            result += letter;
        }
    }
    return result + "\"";
}

inline char const* tool_family_name(plant::Family::Key key)
{
    return key == plant::Family::Key::mpo16 ? "mpo-16" : "mpo-12";
}

inline void write_cord(std::string& text, setup::Cord const& cord)
{
    setup::CordEnd const& near = cord.ends[0];
    setup::CordEnd const& far = cord.ends[1];
    text += fmt::format("\n[[cord]]\nserial = {}\n", toml_text(cord.id));
    if (!(cord.roles == setup::Roles{})) {
        std::vector<std::string> roles;
        for (std::size_t i = 0; i < cord.roles.allowed.size(); ++i) {
            if (cord.roles.allowed[i])
                roles.push_back(toml_text(setup::name_of(static_cast<setup::Role>(i))));
        }
        text += fmt::format("roles = [{}]\n", joined(roles, ", "));
    }
    text += fmt::format("family = {}\ntype = {}\n", toml_text(near.plug.family.name()), toml_text(cord.type));
    if (near.plug.occupied != plant::all_positions(near.plug.family))
        text += fmt::format("fibres = {}\n", toml_text(plant::occupancy_text(near.plug.occupied)));
    if (!cord.category.empty()) {
        text += fmt::format("category = {}\n", toml_text(cord.category));
    } else {
        text += fmt::format("fibre = {}\n", toml_text(facts::name_of(cord.glass.kind)));
        if (cord.glass.core_um > 0) text += fmt::format("core-um = {}\n", number_text(cord.glass.core_um));
    }
    text += fmt::format("length = {}\ngrade = {}\n", number_text(cord.length.value()),
                        toml_text(facts::name_of(cord.grade)));
    for (auto const* const side : {"near", "far"}) {
        plant::ConnectorEnd const& plug = (side[0] == 'n' ? near : far).plug;
        text += fmt::format("pins-{} = {}\nface-{} = {}\n", side, toml_text(plant::name_of(plug.pins)), side,
                            toml_text(plant::name_of(plug.face)));
        if (plug.slope == plant::Slope::up) text += fmt::format("slope-{} = \"up\"\n", side);
    }
    if (near.pins_exchangeable || far.pins_exchangeable) {
        text += fmt::format("pins-exchangeable = \"{}\"\n", !far.pins_exchangeable    ? "near"
                                                            : !near.pins_exchangeable ? "far"
                                                                                      : "both");
    }
}

/// kit_from_file() reads it back.
inline std::string kit_file_text(KitFile const& kit)
{
    std::string text;
    if (kit.limits) {
        text += "[limits]\n";
        if (kit.limits->matings) text += fmt::format("matings = {}\n", *kit.limits->matings);
        if (kit.limits->pin_changes) text += fmt::format("pin-changes = {}\n", *kit.limits->pin_changes);
        text += fmt::format("warn-at = {}\ncalibration-warning-days = {}\nend-faces-required = {}\n",
                            number_text(kit.limits->warn_at), kit.limits->calibration_warning_days,
                            kit.limits->end_faces_required);
    }
    for (KitInstrument const& instrument : kit.instruments) {
        plant::ConnectorEnd const& face = instrument.port.face;
        text += fmt::format(
            "\n[[instrument]]\nserial = {}\nrole = \"{}\"\nname = {}\nfamily = {}\npins = {}\n"
            "face = {}\nkeys = {}\n",
            toml_text(instrument.entry.serial), name_of(instrument.role), toml_text(instrument.entry.name),
            toml_text(face.family.name()), toml_text(plant::name_of(face.pins)),
            toml_text(plant::name_of(face.face)), toml_text(plant::name_of(instrument.port.keys)));
        if (!instrument.wavelengths.empty()) {
            std::vector<std::string> list;
            for (Nanometres const w : instrument.wavelengths) list.push_back(fmt::format("{}", w.value()));
            text += fmt::format("wavelengths = [{}]\n", joined(list, ", "));
        }
        if (instrument.entry.calibrated)
            text += fmt::format("calibrated = {}\n", day_text(*instrument.entry.calibrated));
        if (instrument.entry.calibration_due)
            text += fmt::format("calibration-due = {}\n", day_text(*instrument.entry.calibration_due));
    }
    for (setup::Cord const& cord : kit.kit.cords) write_cord(text, cord);
    for (setup::AdapterStock const& stock : kit.kit.adapters) {
        text +=
            fmt::format("\n[[adapter]]\nkeys = {}\nfamily = \"{}\"\ncount = {}\n",
                        toml_text(plant::name_of(stock.keys)), tool_family_name(stock.family), stock.count);
    }
    for (setup::PinTool const& tool : kit.kit.pin_tools) {
        text += fmt::format("\n[[pin-tool]]\nserial = {}\nfamily = \"{}\"\n", toml_text(tool.id),
                            tool_family_name(tool.family));
    }
    return text;
}

} // namespace guidepin::job
