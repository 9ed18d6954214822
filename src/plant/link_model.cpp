// SPDX-License-Identifier: Apache-2.0
#include "plant/link_model.hpp"

#include "base/text.hpp"
#include "plant/presets.hpp"

#include <fmt/format.h>

namespace guidepin::plant {

namespace {

/// The array family inside a link whose ends are LC ports.
Family array_family(Family const& ports)
{
    if (ports.key != Family::Key::duplex) return ports;
    if (ports.positions() == 16) return Family{Family::Key::mpo16, 1, 16};
    if (ports.positions() == 32) return Family{Family::Key::mpo16, 2, 16};
    if (ports.positions() == 24) return Family{Family::Key::mpo12, 2, 12};
    return Family{Family::Key::mpo12, 1, 12};
}

Element adapter_element(EndFitting fitting)
{
    Element element;
    element.kind = ElementKind::adapter;
    element.value = fitting == EndFitting::aligned_adapter ? "aligned" : "opposed";
    return element;
}

bool ends_in_array(ChainEnd const& end)
{
    return !end.own.empty() && end.own.front().family.key != Family::Key::duplex &&
           end.port == PortKind::none;
}

bool is_cable(Element const& element)
{
    return element.kind == ElementKind::cord || element.kind == ElementKind::trunk;
}

void state_pins(std::vector<Element>& elements, LinkSpec const& spec)
{
    for (Element& element : elements) {
        if (element.kind == ElementKind::adapter) continue;
        if (is_cable(element) && !element.near_pins) element.near_pins = spec.a.pins;
        break;
    }
    for (std::size_t i = elements.size(); i-- > 0;) {
        if (elements[i].kind == ElementKind::adapter) continue;
        if (is_cable(elements[i]) && !elements[i].far_pins) elements[i].far_pins = spec.b.pins;
        break;
    }
}

Result<LinkModel> modelled(LinkSpec const& spec, LinkOptions const& options)
{
    if (trimmed(spec.trunk_type).empty()) {
        return Error{Errc::invalid_input, "no polarity type; write A, B, C, … or the chain of elements."};
    }
    bool const chain_given = spec.trunk_type.find(':') != std::string::npos;
    TRY_ASSIGN(
        std::vector<Element> elements,
        parse_chain_text(chain_given ? spec.trunk_type : "trunk:" + std::string{trimmed(spec.trunk_type)}));
    state_pins(elements, spec);

    ChainOptions chain_options;
    chain_options.family = array_family(spec.family);
    bool const duplex = spec.family.key == Family::Key::duplex;
    if (!duplex) chain_options.fibres = spec.fibres & all_positions(chain_options.family);
    chain_options.convention = options.convention;
    chain_options.face = spec.face;
    chain_options.tables = options.tables;
    if (!duplex && (spec.fibres & ~all_positions(spec.family)).any()) {
        return Error{Errc::invalid_input, fmt::format("fibres {} are outside positions 1 to {} of {}.",
                                                      occupancy_text(spec.fibres), spec.family.positions(),
                                                      words_of(spec.family))};
    }
    TRY_ASSIGN(Chain chain, build_chain(std::span<Element const>{elements}, chain_options));

    // The panel's adapters belong to the cabling, unless the chain names them itself.
    bool const before =
        ends_in_array(chain.near) && !chain.near.adapter && spec.a.fitting != EndFitting::bare_plug;
    bool const after =
        ends_in_array(chain.far) && !chain.far.adapter && spec.b.fitting != EndFitting::bare_plug;
    if (before) elements.insert(elements.begin(), adapter_element(spec.a.fitting));
    if (after) elements.push_back(adapter_element(spec.b.fitting));
    if (before || after) {
        TRY_ASSIGN(chain, build_chain(std::span<Element const>{elements}, chain_options));
    }

    LinkModel model;
    model.expected = chain.map;
    model.near_family = chain.near.numbered.front().family;
    model.far_family = chain.far.numbered.front().family;
    if (duplex && !(model.near_family == spec.family)) {
        return Error{Errc::invalid_input,
                     fmt::format("the family says {}, but the near end of '{}' is {}.", words_of(spec.family),
                                 spec.trunk_type, words_of(model.near_family))};
    }
    if (duplex && spec.fibres.any()) {
        FibreMap used{model.expected.near_connectors(), model.expected.far_connectors()};
        for (Place const near : model.expected.near_places()) {
            if (spec.fibres.test(static_cast<std::size_t>(near.position - 1))) {
                used.connect(near, *model.expected.at(near));
            }
        }
        model.expected = used;
    }
    model.positions = model.expected.single();
    for (Place const place : model.expected.near_places()) {
        if (place.connector == 0) model.near_occupied.set(static_cast<std::size_t>(place.position - 1));
    }
    for (Place const place : model.expected.far_places()) {
        if (place.connector == 0) model.far_occupied.set(static_cast<std::size_t>(place.position - 1));
    }
    model.near_end = chain.near.own.empty() ? chain.near.numbered.front() : chain.near.own.front();
    model.far_end = chain.far.own.empty() ? chain.far.numbered.front() : chain.far.own.front();
    model.inner_joints = static_cast<int>(chain.joints.size());
    model.class_name = chain.class_name();
    model.chain = std::move(chain);
    return model;
}

} // namespace

Result<LinkModel> build_link(LinkSpec const& spec, LinkOptions const& options)
{
    Result<LinkModel> model = modelled(spec, options);
    if (!model) {
        Error const within = model.error().within(fmt::format("Link '{}'", spec.id));
        // To whoever runs the program these are words in a schedule, not words of a command.
        return Error{within.code == Errc::usage ? Errc::invalid_input : within.code, within.message};
    }
    return model;
}

Result<std::shared_ptr<LinkModel const>> LinkModels::model_for(LinkSpec const& spec)
{
    std::string const key = fmt::format("{}|{}|{}|{}{}|{}{}|{}", spec.family.name(), spec.fibres.to_ullong(),
                                        name_of(spec.face), name_of(spec.a.fitting), name_of(spec.a.pins),
                                        name_of(spec.b.fitting), name_of(spec.b.pins), spec.trunk_type);
    auto const found = models_.find(key);
    if (found != models_.end()) return found->second;
    TRY_ASSIGN(LinkModel model, build_link(spec, options_));
    auto const shared = std::make_shared<LinkModel const>(std::move(model));
    models_.emplace(key, shared);
    return std::shared_ptr<LinkModel const>{shared};
}

} // namespace guidepin::plant
