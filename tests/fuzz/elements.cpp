// SPDX-License-Identifier: Apache-2.0
// room: plant
// Any text as a chain of elements: it reads back from its own text, and what builds keeps its promises.
#include "plant/chain.hpp"
#include "plant/map_view.hpp"

#include <cstdint>
#include <cstdlib>
#include <string>

extern "C" int LLVMFuzzerTestOneInput(std::uint8_t const* bytes, std::size_t size)
{
    using namespace guidepin::plant;
    std::string_view const text{reinterpret_cast<char const*>(bytes), size};
    auto const elements = parse_chain_text(text);
    if (!elements) {
        if (elements.error().message.empty()) std::abort();
        return 0;
    }
    for (Element const& element : *elements) {
        auto const again = parse_element(element.text());
        if (!again || !(*again == element)) std::abort();
    }
    ChainOptions options;
    options.tables = [](std::string const&) -> guidepin::Result<std::string> {
        return std::string{"map = [\"1-12 -> 1:1-12\", \"13-24 -> 2:1-12\"]\n[[near]]\nfamily=\"mpo-24\"\n"
                           "[[far]]\nfamily=\"mpo-12\"\n[[far]]\nfamily=\"mpo-12\"\n"};
    };
    for (char const* family : {"mpo-12", "mpo-24", "mpo-16", "mpo-32"}) {
        options.family = parse_family(family).value();
        auto const chain = build_chain(std::span<Element const>{*elements}, options);
        if (!chain) continue;
        FibreMap const back = chain->map.inverse();
        if (back.inverse() != chain->map) std::abort();
        for (Place const near : chain->map.near_places()) {
            auto const& ends = chain->near.numbered;
            if (static_cast<std::size_t>(near.connector) >= ends.size()) std::abort();
            if (near.position > ends[static_cast<std::size_t>(near.connector)].family.positions())
                std::abort();
        }
        for (Joint const& joint : chain->joints) {
            if (joint_text(*chain, joint).empty()) std::abort();
        }
        map_rows(chain->map, chain->near.numbered);
    }
    return 0;
}
