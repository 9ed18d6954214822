// SPDX-License-Identifier: Apache-2.0
#include "web/pages/reference_typing.hpp"

#include "base/text.hpp"
#include "web/pages/pages.hpp"

#include <algorithm>
#include <map>

#include <fmt/format.h>

namespace guidepin::web {

namespace {

/// What the cabling of this job asks for: wavelengths by kind of fibre, and the widest row of positions.
struct Asked
{
    std::map<facts::FibreKind, std::vector<int>> wavelengths;
    int positions = 12;
};

Asked asked_of(job::JobState const& state)
{
    Asked asked;
    int widest = 0;
    for (plant::LinkSpec const& link : state.links) widest = std::max(widest, link.family.positions());
    if (widest > 0) asked.positions = widest;
    asked.wavelengths = {{facts::FibreKind::multimode, {850, 1300}},
                         {facts::FibreKind::single_mode, {1310, 1550}}};
    for (auto const& [kind, list] : state.settings.wavelengths) {
        if (list.empty()) continue;
        asked.wavelengths[kind].clear();
        for (Nanometres const nm : list) asked.wavelengths[kind].push_back(nm.value());
    }
    return asked;
}

/// One fold a wavelength; what stays empty was not measured.
template <typename Field>
Html folds(Asked const& asked, std::string_view what, Field field)
{
    Html all;
    bool first = true;
    for (auto const& [kind, list] : asked.wavelengths) {
        for (int const nm : list) {
            Html fields;
            for (int p = 1; p <= asked.positions; ++p) fields += field(nm, p);
            all += html(R"(<details{}><summary>{} nm, {}</summary><fieldset class="positions">)"
                        "<legend>{} at {} nm</legend>\n"
                        "{}</fieldset></details>\n",
                        first ? html(" open") : Html{}, nm, facts::name_of(kind), what, nm, fields);
            first = false;
        }
    }
    return all;
}

template <typename Row>
Outcome each_typed(Exchange const& exchange, std::string_view prefix, Row row)
{
    for (auto const& [name, text] : exchange.fields) {
        if (name.rfind(prefix, 0) != 0 || trimmed(text).empty()) continue;
        std::string_view const rest = std::string_view(name).substr(prefix.size());
        auto const dash = rest.find('-');
        if (dash == std::string_view::npos) continue;
        auto const nm = parse_integer(rest.substr(0, dash));
        auto const position = parse_integer(rest.substr(dash + 1));
        if (!nm || *nm < 600 || *nm > 1700 || !position || *position < 1 || *position > plant::max_positions)
            return Error{Errc::usage, fmt::format("\"{}\" names no wavelength and position", name)};
        auto const value = typed_number(text);
        if (!value)
            return Error{Errc::invalid_input,
                         fmt::format("Position {} at {} nm: \"{}\" is not a number", *position, *nm, text)};
        TRY(row(static_cast<int>(*nm), static_cast<int>(*position), *value));
    }
    return {};
}

} // namespace

bool numbered_by_instrument(Exchange const& exchange)
{
    return exchange.text("positions") == "instrument";
}

Html numbering_choice()
{
    return html(R"(<label>Positions are numbered<select name="positions">)"
                R"(<option value="cabling">on the cords' plugs at the cabling</option>)"
                R"(<option value="instrument">as the instrument shows )"
                "them</option></select></label>\n");
}

Html typed_reference_form(Desk const& desk, Exchange const& exchange, Html const& kit)
{
    Html const fields = folds(asked_of(desk.job().state()), "Power per position, dBm", [](int nm, int p) {
        return html(R"(<label class="pair"><span class="position" aria-hidden="true">{}</span>)"
                    R"(<span class="sr">Position {} at {} nm, dBm</span>)"
                    R"(<input name="power-{}-{}" inputmode="text" autocomplete="off" size="7"></label>)"
                    "\n",
                    p, p, nm, nm, p);
    });
    return html("<details><summary>Type the powers instead</summary>\n"
                R"({}{}<label>Name of the reference<input name="id" maxlength="40" )"
                R"(autocomplete="off" placeholder="leave empty for the next number"></label>)"
                "\n{}{}<button>Save the reference</button>{}</details>\n",
                kept_form(exchange, "/reference/type", "Reference"), kit, numbering_choice(), fields,
                end_form());
}

Html typed_check_form(Desk const& desk, Exchange const& exchange, Html const& references)
{
    Html const fields =
        folds(asked_of(desk.job().state()), "Attenuation per position, dB", [](int nm, int p) {
            return html(R"(<div class="pair"><span class="position" aria-hidden="true">{}</span><label>)"
                        R"(<span class="sr">Position {} at {} nm, </span>dB)"
                        R"(<input name="loss-{}-{}" inputmode="decimal" autocomplete="off" )"
                        R"(size="6"></label><label><span class="sr">Position {} at {} nm, </span>arrives at)"
                        R"(<input name="far-{}-{}" inputmode="numeric" autocomplete="off" )"
                        R"(size="3"></label></div>)"
                        "\n",
                        p, p, nm, nm, p, p, nm, nm, p);
        });
    return html("<details><summary>Type the check instead</summary>\n"
                R"({}<label>Of reference<select name="reference">{}</select></label>)"
                "\n{}{}<button>Save the check</button>{}</details>\n",
                kept_form(exchange, "/reference/type-check", "Cord check"), references, numbering_choice(),
                fields, end_form());
}

Result<Reply> type_reference(Desk& desk, Exchange const& exchange)
{
    job::TypedReference typed;
    typed.id = verdict::ReferenceId(trimmed(exchange.text("id")));
    typed.key = exchange.text("key");
    typed.kit = kit_of(exchange);
    typed.instrument_positions = numbered_by_instrument(exchange);
    TRY_ASSIGN(typed.overrides, overrides_of(exchange));
    TRY_ASSIGN(typed.taken, typed_at(desk, exchange));
    TRY(each_typed(exchange, "power-", [&](int nm, int position, double value) -> Outcome {
        typed.powers.push_back({nm, position, value});
        return {};
    }));
    TRY_ASSIGN(auto const outcome, desk.job().enter_reference(typed));
    return Reply::see(outcome.ids.empty() ? "/reference"
                                          : "/reference?id=" + url_escaped(outcome.ids.back()));
}

Result<Reply> type_check(Desk& desk, Exchange const& exchange)
{
    job::TypedCheck typed;
    typed.reference = verdict::ReferenceId(exchange.text("reference"));
    typed.key = exchange.text("key");
    typed.instrument_positions = numbered_by_instrument(exchange);
    TRY_ASSIGN(typed.taken, typed_at(desk, exchange));
    TRY(each_typed(exchange, "loss-", [&](int nm, int position, double value) -> Outcome {
        job::TypedJoint joint{nm, position, {}, value};
        std::string const far = exchange.text(fmt::format("far-{}-{}", nm, position));
        if (!trimmed(far).empty()) {
            auto const place = parse_integer(trimmed(far));
            if (!place || *place < 0 || *place > plant::max_positions)
                return Error{
                    Errc::invalid_input,
                    fmt::format("Position {} at {} nm arrives at \"{}\": a position from 1, or 0 for dark",
                                position, nm, far)};
            joint.far_position = static_cast<int>(*place);
        }
        typed.rows.push_back(joint);
        return {};
    }));
    TRY(desk.job().enter_cord_check(typed));
    return Reply::see("/reference?id=" + url_escaped(typed.reference));
}

} // namespace guidepin::web
